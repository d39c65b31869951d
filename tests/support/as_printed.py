"""Papers compared as they are printed, whatever a correction would make of them."""

from collections.abc import Sequence

from greyscale.analysis.comparison import Comparison, ComparisonOptions
from greyscale.correction.corrected_papers import compare_papers
from greyscale.readings.reading import Reading


def compare(readings: Sequence[Reading], options: ComparisonOptions | None = None) -> Comparison:
    return compare_papers(readings, options, as_printed=True)
