"""All errors that geoqa raises on purpose.

Every message is a sentence: where (file, line, key), what was found, what to do.

    GeoqaError
    ├── InputError         a file that was given cannot be used as it is
    │   └── SettingsError  the settings, with every mistake at once
    ├── FrameError         coordinates cannot be brought into one frame exactly
    ├── MeasurementError   a computation was asked for that the data cannot carry
    ├── OutputError        the results cannot be written
    └── PluginError        a plug-in breaks the contract of its family
"""


class GeoqaError(Exception):
    """Any mistake that the user can mend; the command line prints it and ends with status 2."""


class InputError(GeoqaError):
    """A file that was given cannot be used as it is."""


class SettingsError(InputError):
    """The settings hold one or several mistakes; the message lists all of them."""


class FrameError(GeoqaError):
    """Coordinates cannot be brought into one frame exactly."""


class MeasurementError(GeoqaError):
    """A computation was asked for that the data cannot carry."""


class OutputError(GeoqaError):
    """The results cannot be written."""


class PluginError(GeoqaError):
    """A plug-in breaks the contract of its family."""
