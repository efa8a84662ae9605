"""The figure of shaft speeds: every function is named once, inside the axes, apart from others."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

from hydrocheck.report.speedplot import speed_figure
from hydrocheck.studies.setup import SpeedCurves

RPM = np.pi / 30


def curves(*starts: float) -> SpeedCurves:
    engine = np.linspace(700, 2300, 41) * RPM
    share = np.stack([np.clip(s + 0.002 * (engine / RPM - 700), 0, 1) for s in starts], axis=1)
    names = tuple(f"function {k}" for k in range(len(starts)))
    return SpeedCurves("spreading", names, engine, 316.0, share)


@pytest.mark.parametrize(
    "starts", [(1.0, 1.0, 1.0, 1.0), (0.0, 0.0, 0.0), (0.2, 0.21, 0.9), (0.5,)]
)
def test_names_stand_apart_and_inside(starts: tuple[float, ...]) -> None:
    figure = speed_figure("truck", curves(*starts), (1200 * RPM, 1400 * RPM), "us")
    FigureCanvasAgg(figure).draw()
    (axes,) = figure.axes
    names = [text for text in axes.texts if text.get_text().startswith("function")]
    assert sorted(t.get_text() for t in names) == [f"function {k}" for k in range(len(starts))]
    boxes = [Text.get_window_extent(text) for text in names]  # without its leader
    for n, box in enumerate(boxes):
        assert axes.get_window_extent().contains(box.x0, (box.y0 + box.y1) / 2)
        assert not any(box.overlaps(other) for other in boxes[n + 1 :])
    assert len(axes.lines) == len(starts)


def test_dashes_tell_the_curves_apart_without_colour() -> None:
    figure = speed_figure("truck", curves(0.1, 0.2, 0.3, 0.4), None, "metric")
    lines = figure.axes[0].lines
    assert {line.get_color() for line in lines} == {"black"}
    assert len({(str(line.get_linestyle()), line.get_linewidth()) for line in lines}) == 4
