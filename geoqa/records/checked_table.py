"""A table of settings that knows its rules and tells every mistake in it at once."""

from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from typing import Any, ClassVar, Self

from pydantic import BaseModel, ConfigDict, ModelWrapValidatorHandler, ValidationError, model_validator
from pydantic_core import ErrorDetails, InitErrorDetails, PydanticCustomError

RULE = "rule"


def broken_rule(sentence: str) -> PydanticCustomError:
    """Return a mistake whose message is this sentence, braces and all."""
    return PydanticCustomError(RULE, "{sentence}", {"sentence": sentence})


def unknown_name(name: str, known: tuple[str, ...], what: str) -> str:
    """Return a sentence that names the nearest known name, or all of them where none is near.

    Examples
    --------
    >>> unknown_name("demm", ("dem", "title"), "key")
    '“demm” is not a known key; did you mean “dem”?'
    """
    close = get_close_matches(name, known, n=1)
    hint = f"did you mean “{close[0]}”?" if close else f"known here: {', '.join(known)}."
    return f"“{name}” is not a known {what}; {hint}"


class Table(BaseModel):
    """A table of the settings file: unknown keys, wrong values and broken rules are mistakes."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    # What to say of a missing key, where “Add it” is not enough.
    missing_words: ClassVar[Mapping[str, str]] = {}

    @classmethod
    def broken_rules(cls, given: Mapping[str, Any]) -> Iterator[str]:
        """Yield what is wrong between the keys of this table; values may still have a wrong type."""
        yield from ()

    # A validator that ran after the fields would stay silent as long as one of them is wrong.
    @model_validator(mode="wrap")
    @classmethod
    def _every_mistake(cls, given: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        rules: list[InitErrorDetails] = []
        if isinstance(given, Mapping):
            stated = {key: value for key, value in given.items() if value is not None}
            rules = [
                InitErrorDetails(type=broken_rule(text), input=None) for text in cls.broken_rules(stated)
            ]
        try:
            table = handler(given)
        except ValidationError as mistakes:
            details = [cls._detail(mistake) for mistake in mistakes.errors(include_url=False)]
            raise ValidationError.from_exception_data(cls.__name__, details + rules) from None
        if rules:
            raise ValidationError.from_exception_data(cls.__name__, rules)
        return table

    @classmethod
    def _detail(cls, mistake: ErrorDetails) -> InitErrorDetails:
        kind: str | PydanticCustomError = mistake["type"]
        if kind == "extra_forbidden" and len(mistake["loc"]) == 1:
            known = tuple(name for name, field in cls.model_fields.items() if not field.exclude)
            kind = broken_rule(unknown_name(str(mistake["loc"][0]), known, "key"))
        elif kind == "missing" and mistake["loc"][0] in cls.missing_words:
            kind = broken_rule(cls.missing_words[str(mistake["loc"][0])])
        elif kind == RULE:
            kind = broken_rule(mistake["msg"])
        context = mistake.get("ctx", {})
        return InitErrorDetails(type=kind, loc=mistake["loc"], input=mistake["input"], ctx=context)
