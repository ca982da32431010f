"""How well map products agree with the ground: residuals, accuracy by published standards, causes."""

from geoqa.version import VERSION as __version__  # noqa: N811

__all__ = ["__version__"]
