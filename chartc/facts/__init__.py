"""What the fact lines of a pattern say: gauge, sizes, measures, needles, yarn, notions.

Each function takes the text of a value as printed ("16 sts and 22 rows = 10 cm in St st")
and gives a frozen record, or None when there is nothing of the kind to read. Spans are
offsets in code points into the text given, so that a finding can point at the very number.
Curly quotes, dashes of any length, fractions and non-breaking spaces are all understood;
capitals do not matter.
"""

from chartc.facts.gauge import GaugeFact, parse_gauge, parse_gauges
from chartc.facts.lengths import LengthList, LengthPair, LengthsFact, LengthValue, parse_lengths
from chartc.facts.multiples import MultipleFact, parse_multiple
from chartc.facts.needles import NeedleFact, NeedlesFact, parse_needles, plain_label
from chartc.facts.notions import NotionFact, parse_notions
from chartc.facts.sizes import SizeName, SizesFact, parse_sizes
from chartc.facts.words import Measure
from chartc.facts.yarn import Amount, YarnFact, parse_yarn, parse_yarns

__all__ = [
    "Amount",
    "GaugeFact",
    "LengthList",
    "LengthPair",
    "LengthValue",
    "LengthsFact",
    "Measure",
    "MultipleFact",
    "NeedleFact",
    "NeedlesFact",
    "NotionFact",
    "SizeName",
    "SizesFact",
    "YarnFact",
    "parse_gauge",
    "parse_gauges",
    "parse_lengths",
    "parse_multiple",
    "parse_needles",
    "parse_notions",
    "parse_sizes",
    "parse_yarn",
    "parse_yarns",
    "plain_label",
]
