"""The texts that lie beside the rasters of an invented site: settings and a word of warning."""

from geoqa.demo.site import Site

MARK = "Drawn by geoqa"

_README = """\
{name}: everything in this folder is invented, place, survey and products alike.
{mark} for trying out a check; truth.csv holds the true positions and the errors put in.
"""

_SETTINGS = """\
# {name}: an invented site. Run the check with
#     geoqa check check.toml
# Paths are relative to this file. Lengths are metres.

title = "{name} (invented)"

[orthomosaic]
path = "orthomosaic.tif"

[elevation]
path = "surface.tif"
kind = "surface"                  # with plants and buildings; "terrain" is bare ground
height_system = "{height_system}"       # the file's CRS is horizontal only, so the heights need a name here
unit = "metre"

[points]
path = "points.csv"
crs = "{crs}"                # or "same as products"
height_system = "{height_system}"       # the same as the raster's: no geoid is needed
unit = "metre"

[targets]
kind = "auto"                     # the column "target" of the points says which kind lies where
size_m = {panel_m}                      # side of the panels
search_radius_m = 0.5

[requirement]                     # what the client asks for; leave a line out and it is not judged
horizontal_rmse_m = 0.05          # radial
vertical_rmse_m = 0.05
standards = ["asprs-2023", "nssda-1998"]

[limits]
slope_percent = 10                # steeper ground: a shift in plan would show as height
"""


def readme_text(site: Site) -> str:
    """Return two lines that say that everything is invented."""
    return _README.format(name=site.name, mark=MARK)


def settings_text(site: Site) -> str:
    """Return the settings of a check of the site."""
    return _SETTINGS.format(
        name=site.name, crs=site.crs, height_system=site.height_system, panel_m=site.panel_m
    )
