"""A trial sheet is picked from days after it was made: its key must come back."""

import pytest

from printplan.errors import RecordError
from printplan.pixels.trials.steps import TrialKey, TrialPatch
from printplan.pixels.trials.targets import DrawnSquares
from printplan.record.trial_key import SavedTrialKey, read_trial_key, write_trial_key
from printplan.sizing.boxes import Box
from printplan.spec import ColourSpec, Intent, SharpenSpec


def patch(name, restore, **colour):
    return TrialPatch(
        name=name,
        label=f"restore {restore:g}",
        window=Box(100, 200, 709, 531),
        on_page=Box(40, 60, 709, 531),
        sharpen=SharpenSpec(gain=restore, restore=restore, distance_mm=500),
        colour=ColourSpec(**colour),
    )


def kept(*patches, squares=None):
    key = TrialKey(patches=patches, squares=squares)
    return SavedTrialKey(paper="Fen Cotton 310", printer="Studio 24", key=key)


TRIALS = {
    "patches and squares": kept(
        patch("A", 0.5),
        patch("B", 1.0, intent=Intent.PERCEPTUAL, lighten_l=3.0),
        squares=DrawnSquares(count=6, ppi=300, tones=(0.1, 0.2, 0.4)),
    ),
    "targets alone": kept(squares=DrawnSquares(count=6, ppi=360)),
    "patches alone": kept(patch("A", 0.5), patch("B", 0.75)),
}


@pytest.mark.parametrize("trial", TRIALS.values(), ids=TRIALS)
def test_a_trial_key_comes_back_exactly(trial, tmp_path):
    write_trial_key(trial, tmp_path / "trial.toml")
    assert read_trial_key(tmp_path / "trial.toml") == trial


def test_a_kept_key_says_what_a_pick_means(tmp_path):
    write_trial_key(TRIALS["patches alone"], tmp_path / "trial.toml")
    picked = read_trial_key(tmp_path / "trial.toml").key.restore_trial("b")
    assert (picked.offered, picked.picked) == ((0.5, 0.75), 0.75)


def test_a_kept_key_is_not_written_over(tmp_path):
    write_trial_key(TRIALS["targets alone"], tmp_path / "trial.toml")
    with pytest.raises(RecordError):
        write_trial_key(TRIALS["patches alone"], tmp_path / "trial.toml")
    assert read_trial_key(tmp_path / "trial.toml") == TRIALS["targets alone"]


@pytest.mark.parametrize(
    ("typed", "wrong", "remedy"),
    [
        ("709, 531]", "709]", "left, top, width and height"),
        ("printplan trial key", "printplan plan", "trial key"),
        ("intent", "intend", "intent"),
    ],
)
def test_a_damaged_key_says_what_is_wrong(typed, wrong, remedy, tmp_path):
    path = tmp_path / "trial.toml"
    write_trial_key(TRIALS["patches alone"], path)
    path.write_text(path.read_text().replace(typed, wrong, 1))
    with pytest.raises(RecordError) as caught:
        read_trial_key(path)
    assert remedy in f"{caught.value.problem} {caught.value.remedy}"
