"""A sharpening study from arrays: own kernel, sweep, measured MTF, CSV, figure."""

import sys
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure
from scipy.special import ndtr

from printplan import edge_sfr, kernel_of, seen_on_paper, unsharp_mask

PPI = 300
down, across = np.mgrid[:160, :160]
tilted = (across - 80) * np.cos(0.09) + (down - 80) * np.sin(0.09)
light = 0.15 + 0.35 * ndtr(tilted / 0.6)  # Linear reflectance of a soft edge.
coded = 1.055 * light ** (1 / 2.4) - 0.055  # IEC 61966-2-1, above its toe.
disc = (np.hypot(*np.mgrid[-2:3, -2:3]) <= 2.3).astype(float)
KERNELS = {"Gaussian 1 px": None, "disc 2.3 px": kernel_of(disc / disc.sum())}


def study(folder):
    rows = [("kernel", "gain", "range", "mtf50_per_mm")]
    axes = (figure := Figure(layout="constrained")).subplots()
    axes.set(xlabel="cycles per mm on paper", ylabel="contrast", xlim=(0, PPI / 50.8))
    for name, kernel in KERNELS.items():
        for gain in (0.0, 0.5, 1.0, 2.0):
            sharp = unsharp_mask(coded, gain=gain, kernel=kernel)
            seen = seen_on_paper(sharp, ppi=PPI, psf_sigma_um=50)[20:-20, 20:-20]
            sfr = edge_sfr(((seen + 0.055) / 1.055) ** 2.4)
            rows.append((name, gain, np.ptp(sharp), sfr.mtf50_cycles_px * PPI / 25.4))
            per_mm, label = sfr.frequency_cycles_px * PPI / 25.4, f"{name}, {gain:g}"
            axes.plot(per_mm, sfr.sfr, label=label)
    axes.legend(title="kernel, gain")
    figure.savefig(Path(folder) / "study.svg")
    lines = [",".join(map(str, row)) + "\n" for row in rows]
    (Path(folder) / "study.csv").write_text("".join(lines))


if __name__ == "__main__":
    study(sys.argv[1])
