"""Signs and colours beside words, so that nothing rests on colour alone.

The blue is that of what is met on the map; vermilion and grey are darker than there, since words need
a contrast of 4.5 to 1 (WCAG 2.1, success criterion 1.4.3), on white as on the pale ground of a box.
"""

from geoqa.records.measurements import TargetStatus
from geoqa.records.results import ClaimVerdict, FindingVerdict, JudgementVerdict
from geoqa.writers._symbols import MET

NOT_MET, OPEN = "#b04e00", "#616161"

VERDICT_SIGNS = {
    ClaimVerdict.PROVED: ("✓", MET),
    ClaimVerdict.NOT_CONTRADICTED: ("○", OPEN),
    ClaimVerdict.FAILED: ("✗", NOT_MET),
    ClaimVerdict.UNDECIDABLE: ("?", OPEN),
    ClaimVerdict.NOT_ASKED: ("–", OPEN),
}
JUDGEMENT_SIGNS = {
    JudgementVerdict.MET: ("✓", MET),
    JudgementVerdict.NOT_MET: ("✗", NOT_MET),
    JudgementVerdict.NOT_ASSESSED: ("–", OPEN),
}
FINDING_SIGNS = {
    FindingVerdict.PRESENT: ("!", NOT_MET),
    FindingVerdict.CANNOT_TELL: ("?", OPEN),
    FindingVerdict.ABSENT: ("–", OPEN),
}
STATUS_SIGNS = {
    TargetStatus.FOUND: "✓",
    TargetStatus.MARKED: "✓",
    TargetStatus.SUSPECT: "?",
    TargetStatus.AMBIGUOUS: "?",
    TargetStatus.NOT_FOUND: "✗",
    TargetStatus.OUTSIDE: "✗",
    TargetStatus.NOT_SOUGHT: "–",
}
