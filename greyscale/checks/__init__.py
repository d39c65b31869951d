"""Checks of a reading: was every patch measured, and does each value stand under its own?

`check` lays a reading over its chart, explains what does not fit by the likeliest mistake (of
`order`, or `beyond_order`), looks at single values (`values`), and puts right what can be put right
without guessing a value.
"""

from greyscale.checks.checking import check, refuse_if_misread
from greyscale.checks.finding import CheckResult, Finding, SpoiltPatch
from greyscale.checks.spoilt import spoilt_patches, spoilt_words, without_spoilt

__all__ = [
    "CheckResult", "Finding", "SpoiltPatch", "check", "refuse_if_misread", "spoilt_patches",
    "spoilt_words", "without_spoilt",
]  # fmt: skip
