"""What the command says of a sheet that it wrote, as text and as JSON."""

from __future__ import annotations

from hydrocheck.report.sheet import Sheet
from hydrocheck.report.text import paragraph


def summary_text(path: str, sheet: Sheet) -> str:
    """Where it is, how many blanks it has, what is filled, what could not be predicted."""
    full = sum(bool(f.value) for f in sheet.fields)
    out = sum(bool(f.flag) for f in sheet.fields)
    text = f"Wrote {path}: {len(sheet.fields)} values to measure"
    if full:
        text += f", {full} filled in, {out} out of range"
    lines = [paragraph(text + ".")]
    lines += [paragraph(f"not predicted: {gap}", hang=2) for gap in sheet.gaps]
    lines += [paragraph(f"no blank for: {one.what} = {one.value}", hang=2) for one in sheet.others]
    return "\n".join(lines)


def summary_json(path: str, sheet: Sheet) -> dict[str, object]:
    """The blanks with their ranges, in the units shown."""
    return {
        "file": path,
        "blanks": [
            {
                "step": f.step,
                "label": f.label,
                "what": f.what,
                "expected": f.expected,
                "low": f.low,
                "high": f.high,
                "unit": f.unit,
                "value": f.value,
                "flag": f.flag,
            }
            for f in sheet.fields
        ],
        "not_predicted": list(sheet.gaps),
        "without_blank": [{"what": o.what, "value": o.value} for o in sheet.others],
    }
