"""What the user has to know beside the figures, each sentence told once while the check runs."""

import logging
from collections.abc import Iterable, Iterator

from geoqa.accuracy.three_numbers import in_words
from geoqa.frame.base_products import product_remarks
from geoqa.frame.base_shift import verdict_notes
from geoqa.frame.declare import Products
from geoqa.measure import coarse_products, shift_note
from geoqa.records.assessment import Seal
from geoqa.records.measurements import Backdrop, SurfaceSamples, SurfaceStatus, TargetFixes, TargetStatus
from geoqa.records.points import Checkpoints
from geoqa.records.results import ThreeNumbers
from geoqa.records.settings import Settings

LOG = logging.getLogger("geoqa")


def taken_to_be_so(products: Products, checkpoints: Checkpoints, marks: Checkpoints | None) -> Iterator[str]:
    """Yield what was assumed because nothing says otherwise."""
    yield from products.frame.assumptions
    for correction in products.base:
        yield from correction.assumptions
    yield from checkpoints.assumptions
    yield from () if marks is None else marks.assumptions


def beside_the_answer(products: Products, numbers: ThreeNumbers, seals: tuple[Seal, ...]) -> tuple[str, ...]:
    """Return the sentences that must not be parted from the verdict."""
    broken = tuple(seal.sentence for seal in seals if not seal.matches)
    # Without a base nothing absolute is known, and the sentence stays with the fit.
    of_base = (*verdict_notes(products.base), in_words(numbers)) if products.base else ()
    return (*of_base, *broken)


def notes(
    settings: Settings,
    products: Products,
    checkpoints: Checkpoints,
    fixes: TargetFixes,
    samples: SurfaceSamples,
    backdrop: Backdrop | None,
    seals: tuple[Seal, ...],
) -> Iterator[str]:
    """Yield what the user should know, in the order of the line."""
    yield from (seal.sentence for seal in seals)
    for info in (products.orthomosaic, products.elevation):
        yield from () if info is None else info.notes
    yield from coarse_products(products, settings.requirement)
    for survey in checkpoints.survey:
        yield from survey.notes
    for correction in products.base:
        yield from correction.messages
    yield from product_remarks(products)
    yield from checkpoints.messages
    if settings.limits.network:
        yield (
            "PROJ's network was on for this run (limits.network): a grid that was not installed was read "
            "from its server, and has no hash."
        )
    yield from shift_note(checkpoints, fixes, settings.targets)
    yield from _off_the_map(checkpoints.ids, [fix.status for fix in fixes.fixes], "orthomosaic")
    yield from _off_the_map(checkpoints.ids, samples.statuses, "elevation raster")
    if settings.deliver.pictures and products.orthomosaic is not None and backdrop is None:
        yield (
            "The orthomosaic has no overviews, so the map is drawn without it. "
            "Build overviews and run again to see it."
        )


def _off_the_map(
    ids: tuple[str, ...], statuses: Iterable[TargetStatus | SurfaceStatus], product: str
) -> Iterator[str]:
    outside = [name for name, status in zip(ids, statuses, strict=True) if status == "outside"]
    if outside:
        shown = ", ".join(outside[:8]) + (" …" if len(outside) > 8 else "")
        yield f"{len(outside)} of {len(ids)} points lie outside the {product}: {shown}."


def told(sentences: Iterable[str], before: str) -> tuple[str, ...]:
    """Say each sentence once, and return them."""
    unique = tuple(dict.fromkeys(sentences))
    for sentence in unique:
        LOG.info("%s%s", before, sentence)
    return unique
