"""Pictures of a measurement, as SVG: exact by noise level beside PocketSphinx, and the reliability of the confidence."""

from collections.abc import Sequence
from pathlib import Path

from speech.training.report import LEVELS_DB, WANTED, Outcome, calibration_error, grouped, percent, reliability, whole

ROW = 4
"""Pictures side by side."""
_TICKS = ("clean", "20", "10", "5", "0")


def draw(outcomes: Sequence[Outcome], folder: Path) -> list[Path]:
    """accuracy.svg and reliability.svg; the same outcomes make the same bytes."""
    import matplotlib

    matplotlib.use("svg")
    matplotlib.rcParams.update({"svg.hashsalt": "reading model", "font.size": 9, "axes.spines.top": False})
    folder.mkdir(parents=True, exist_ok=True)
    return [_accuracy(outcomes, folder / "accuracy.svg"), _reliability(outcomes, folder / "reliability.svg")]


def _accuracy(outcomes: Sequence[Outcome], path: Path) -> Path:
    from matplotlib import pyplot

    turns = [one for one in outcomes if one.part == "test" and one.beside]
    sets = whole(turns)
    columns = max(1, min(ROW, len(sets)))
    rows = max(1, -(-len(sets) // columns))
    figure, axes = pyplot.subplots(rows, columns, figsize=(3.1 * columns, 3.0 * rows), sharey=True, squeeze=False)
    for axis in axes.flat[len(sets) :]:
        axis.set_visible(False)
    for axis, name in zip(axes.flat, sets, strict=False):
        found = [one for one in turns if one.name == name]
        axis.plot(_TICKS, WANTED[found[0].kind], ":", color="0.5", label="wanted")
        for hearer, theirs in grouped(found, lambda one: one.hearer).items():
            shares = [percent([one for one in theirs if one.level_db == level]) for level in LEVELS_DB]
            axis.plot(_TICKS, shares, marker="o", markersize=3, label=str(hearer))
        axis.set_title(str(name), fontsize=9)
        axis.set_xlabel("speech over noise [dB]")
        axis.set_ylim(0, 102)
    for row in axes:
        row[0].set_ylabel("exact [%]")
    axes[0][-1].legend(frameon=False, fontsize=8)
    return _saved(figure, path)


def _reliability(outcomes: Sequence[Outcome], path: Path) -> Path:
    from matplotlib import pyplot

    figure, axis = pyplot.subplots(figsize=(3.6, 3.4))
    axis.plot((0, 1), (0, 1), ":", color="0.5")
    for part, found in grouped([one for one in outcomes if one.hearer == "ours"], lambda one: one.part).items():
        sure, right, count = zip(*reliability(found), strict=True) if reliability(found) else ((), (), ())
        error = calibration_error(found)
        axis.plot(sure, right, marker="o", markersize=3, label=f"{part}: {sum(count)} heard, error {error:.3f}")
    axis.set_xlabel("confidence")
    axis.set_ylabel("share right")
    axis.legend(frameon=False, fontsize=8)
    return _saved(figure, path)


def _saved(figure: object, path: Path) -> Path:
    figure.tight_layout()  # type: ignore[attr-defined]
    figure.savefig(path, metadata={"Date": None})  # type: ignore[attr-defined]
    return path
