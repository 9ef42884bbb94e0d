"""What do a master's own pixels tell, whatever is printed of them?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from printplan.colour.transforms import colorants_xyz, tone_curves
from printplan.pixels.block_edges import visible_block_edges
from printplan.pixels.enlargement import measured_enlargement
from printplan.pixels.master_samples import luma, sample_master
from printplan.pixels.tagged_space import cube_faces
from printplan.pixels.tone_levels import tone_levels

if TYPE_CHECKING:
    from printplan.pixels.enlargement import Enlargement
    from printplan.pixels.master import Master
    from printplan.pixels.tagged_space import CubeFaces
    from printplan.pixels.tone_levels import ToneLevels


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterMeasures:
    """
    What was measured in a master's own pixels.

    Attributes
    ----------
    enlargement : Enlargement or None
        None if there is no trace of one.
    block_share : float
        Share of JPEG block edges that show.
    tones : ToneLevels or None
        None if there are too few gradations, or the stored numbers are not at hand.
    faces : CubeFaces or None
        None for a grey master, or if the stored numbers are not at hand.
    """

    enlargement: Enlargement | None
    block_share: float
    tones: ToneLevels | None
    faces: CubeFaces | None


def measure_master(master: Master) -> MasterMeasures:
    """
    Measure a master's own pixels in samples spread over it.

    Parameters
    ----------
    master : Master

    Returns
    -------
    MasterMeasures
        Nothing found, if the picture is smaller than one sample.

    Raises
    ------
    MasterError
        If the master was closed, or its file changed since it was opened.
    """
    samples = sample_master(master)
    planes = [luma(it) for it in samples.codes]
    wide = bool(samples.codes) and samples.codes[0].dtype.itemsize == 2
    stored = samples.codes if samples.are_stored else ()
    faces, profile = None, master.source_profile
    if stored and profile.channels == 3 and not profile.is_table:
        curves = tone_curves(profile)
        faces = cube_faces(
            stored, curves if wide else curves[:, ::257], colorants_xyz(profile)
        )
    return MasterMeasures(
        enlargement=measured_enlargement(planes, code_step=1 / 257 if wide else 1.0),
        block_share=visible_block_edges(
            planes, [(box.left, box.top) for box in samples.boxes]
        ),
        tones=tone_levels(stored),
        faces=faces,
    )
