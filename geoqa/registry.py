"""Find the plug-ins of one family: built-in ones by scanning the folder, guests by entry point.

A family is a package such as `geoqa.standards`. Each module in it, except those whose name starts
with an underscore, defines one constant (`STANDARD`) that holds the plug-in. Another distribution
offers a plug-in under the entry-point group of the same name.
"""

import importlib
import pkgutil
import warnings
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib.metadata import EntryPoint, entry_points
from typing import Generic, Protocol, TypeVar

from geoqa.errors import PluginError


class Plugin(Protocol):
    """What every plug-in has: an id that is unique in its family."""

    @property
    def id(self) -> str:
        """Return the id, in lower case with hyphens."""


P = TypeVar("P", bound=Plugin)


@dataclass
class Registry(Generic[P]):
    """The plug-ins of one family, found at first use.

    Parameters
    ----------
    family
        Dotted name of the package and of the entry-point group.
    constant
        Name of the constant that a plug-in module defines.
    kind
        Class that the constant must be an instance of.
    """

    family: str
    constant: str
    kind: type[P]
    _found: dict[str, P] = field(default_factory=dict, repr=False)

    def all(self) -> dict[str, P]:
        """Return id → plug-in, in order of the ids.

        Raises
        ------
        PluginError
            When a built-in module is broken or two plug-ins share an id.

        Warns
        -----
        RuntimeWarning
            When a guest is broken: it is left out.
        """
        if not self._found:
            found: dict[str, P] = {}
            for load in self._built_ins():
                self._add(found, load())
            for entry in entry_points(group=self.family):
                guest = self._guest(entry)
                if guest is not None:
                    self._add(found, guest)
            self._found = dict(sorted(found.items()))
        return self._found

    def get(self, plugin_id: str) -> P:
        """Return one plug-in, or raise `PluginError` naming those that exist."""
        try:
            return self.all()[plugin_id]
        except KeyError:
            message = f"“{plugin_id}” is not one of {', '.join(self.all()) or 'none'} ({self.family})."
            raise PluginError(message) from None

    def refresh(self) -> None:
        """Forget what was found, so that the next use looks again."""
        self._found = {}

    def _built_ins(self) -> list[Callable[[], P]]:
        package = importlib.import_module(self.family)
        names = sorted(name for _, name, _ in pkgutil.iter_modules(package.__path__))
        return [
            lambda name=name: self._checked(  # type: ignore[misc]
                getattr(importlib.import_module(f"{self.family}.{name}"), self.constant, None),
                f"{self.family}.{name}",
            )
            for name in names
            if not name.startswith("_")
        ]

    def _guest(self, entry: EntryPoint) -> P | None:
        # A guest's mistake must not stop a check that does not need it.
        try:
            loaded = entry.load()
            return self._checked(getattr(loaded, self.constant, loaded), entry.value)
        except Exception as mistake:  # noqa: BLE001
            warnings.warn(
                f"The plug-in “{entry.name}” ({entry.value}) was left out: {mistake}",
                RuntimeWarning,
                stacklevel=3,
            )
            return None

    def _checked(self, plugin: object, where: str) -> P:
        if not isinstance(plugin, self.kind):
            message = f"{where} must define {self.constant} as a {self.kind.__name__}, found {plugin!r}."
            raise PluginError(message)
        return plugin

    def _add(self, found: dict[str, P], plugin: P) -> None:
        if plugin.id in found:
            message = f"Two plug-ins of {self.family} share the id “{plugin.id}”. Rename one of them."
            raise PluginError(message)
        found[plugin.id] = plugin
