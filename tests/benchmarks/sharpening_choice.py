"""
The chosen sharpening beside the rule of thumb, on the demo's photographs.

Prints three photographs in A4 on three papers, at two resolutions and four distances:
the weighted error of the response and the noise that the eye sees, for the choice and
for a radius of ppi/200 px with a gain of 1 (common practice, no source). Then it prints
how long one choice takes, by this process' CPU time and by the clock, and how far the
softness by parts, as a print of 483 mm at 360 ppi takes it, is from that of the whole
photographs. Ends with an error if the choice is worse in either, takes more than 50 ms
of CPU in the median, or the softness is off by more than 5 %.

    python tests/benchmarks/sharpening_choice.py
"""

import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from printplan.pixels.picture_content import WHOLE_PIXELS, content_parts
from printplan.sharpening.chain import Chain
from printplan.sharpening.choice import choose_sharpening
from printplan.sharpening.content import measure_content
from printplan.sharpening.effect import sharpening_effect
from printplan.sharpening.eye import PAPER_WHITE_CD_M2
from printplan.sizing.boxes import Box
from printplan.sizing.resampling import resample_plane
from printplan.units import px_from_mm

PHOTOGRAPHS = ("seed-heads", "red-bowl", "stream")
FOLDER = Path(__file__).parents[2] / "demo_images"
# Longest edge on A4 between margins of 10 mm.
LONGEST_MM = 277.0
# Three of the demo's invented papers.
SPREADS_UM = (28.0, 30.0, 50.0)
RESOLUTIONS_PPI = (300.0, 360.0)
DISTANCES_MM = (300.0, 400.0, 600.0, 1000.0)
# A print of 26 to 32 megapixels.
LARGE_MM, LARGE_PPI = 483.0, 360.0
MOST_CPU_MS, MOST_OFF = 50.0, 0.05


@dataclass(frozen=True)
class Row:
    """One print by the choice and by the rule."""

    photograph: str
    psf_sigma_um: float
    ppi: float
    distance_mm: float
    choice: object
    rule: object
    cpu_s: float
    wall_s: float

    @property
    def better(self):
        return (
            self.choice.error_after < self.rule.error_after
            and self.choice.visible_noise_after < self.rule.visible_noise_after
        )


def print_lightness(name, longest_mm, ppi):
    """L* of a photograph in print pixels, and its enlargement."""
    with Image.open(FOLDER / f"{name}.jpg") as picture:
        codes = np.asarray(picture.convert("RGB"))
    # IEC 61966-2-1: the curve of sRGB and the luminance of its primaries.
    code = np.arange(256) / 255
    curve = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    light = np.zeros(codes.shape[:2], np.float32)
    for channel, weight in enumerate((0.2126, 0.7152, 0.0722)):
        light += np.take((weight * curve).astype(np.float32), codes[..., channel])
    rows, columns = light.shape
    enlargement = px_from_mm(longest_mm, ppi) / max(rows, columns)
    size_px = (round(columns * enlargement), round(rows * enlargement))
    light = np.clip(resample_plane(light, (0, 0, columns, rows), size_px), 0, 1)
    # CIE 015:2018, 8.2.1.
    knee = light > (6 / 29) ** 3
    lightness = np.where(knee, 116 * np.cbrt(light) - 16, (29 / 3) ** 3 * light)
    return lightness.astype(np.float32), enlargement


def compare(name, *, longest_mm, ppi, spreads_um, distances_mm):
    """Choice and rule on each paper and from each distance."""
    lightness, enlargement = print_lightness(name, longest_mm, ppi)
    facts = measure_content(lightness, enlargement=enlargement)
    rows = []
    for psf_sigma_um in spreads_um:
        for distance_mm in distances_mm:
            wall, cpu = time.perf_counter(), time.process_time()
            choice = choose_sharpening(
                paper_psf_sigma_um=psf_sigma_um,
                ppi=ppi,
                master_edge_sigma_px=facts.master_edge_sigma_px,
                noise_l=facts.noise_l,
                distance_mm=distance_mm,
                enlargement=enlargement,
            )
            cpu, wall = time.process_time() - cpu, time.perf_counter() - wall
            chain = Chain(
                spread=psf_sigma_um,
                ppi=ppi,
                master_edge_sigma_px=facts.master_edge_sigma_px,
                enlargement=enlargement,
                distance_mm=distance_mm,
                luminance_cd_m2=PAPER_WHITE_CD_M2,
                lightness_l=50.0,
            )
            rule = sharpening_effect(
                chain, gain=1.0, blur=ppi / 200, noise_l=choice.noise_counted_l
            )
            rows.append(
                Row(name, psf_sigma_um, ppi, distance_mm, choice, rule, cpu, wall)
            )
    return facts, rows


def print_times(rows):
    """Print what one choice takes, and give the median of its CPU time in ms."""
    middles = []
    for words, seconds in (
        ("CPU", [row.cpu_s for row in rows]),
        ("by the clock", [row.wall_s for row in rows]),
    ):
        middle, most = 1000 * np.quantile(seconds, [0.5, 0.9])
        middles.append(middle)
        print(f"one choice {words}: median {middle:.1f} ms, p90 {most:.1f} ms")
    return middles[0]


def softness_off(name):
    """Print the softness of a large print by parts and whole; give how far it is off.

    Both in pixels of the master, of which the print has fewer: 1 is a master pixel.
    What the print's own pixels say is printed too, and differs by what the sizes at
    which edges are sought make of them.
    """
    in_print, enlargement = print_lightness(name, LARGE_MM, LARGE_PPI)
    in_master, _ = print_lightness(name, LARGE_MM, LARGE_PPI / enlargement)
    height, width = in_master.shape
    parts = [
        in_master[box.top : box.bottom, box.left : box.right]
        for box in content_parts(Box(0, 0, width, height), WHOLE_PIXELS)
    ]
    by_parts, whole = measure_content(parts), measure_content(in_master)
    by_print = measure_content(in_print, enlargement=enlargement)
    off = by_parts.master_edge_sigma_px / whole.master_edge_sigma_px - 1
    print(
        f"{name}, {in_print.size / 1e6:.1f} MP on paper of {in_master.size / 1e6:.1f}: "
        f"softness {by_parts.master_edge_sigma_px:.3f} by {len(parts)} parts, "
        f"{whole.master_edge_sigma_px:.3f} in one piece ({off:+.1%}), "
        f"{by_print.master_edge_sigma_px / enlargement:.3f} by the print; noise "
        f"{by_parts.noise_l:.2f} and {whole.noise_l:.2f} L*"
    )
    return abs(off)


def main():
    print(
        "photograph  spread  ppi  from mm |  radius  gain |  error before  chosen"
        "    rule | noise before  chosen    rule | decided by"
    )
    rows = []
    for name in PHOTOGRAPHS:
        for ppi in RESOLUTIONS_PPI:
            begun = time.process_time()
            facts, found = compare(
                name,
                longest_mm=LONGEST_MM,
                ppi=ppi,
                spreads_um=SPREADS_UM,
                distances_mm=DISTANCES_MM,
            )
            taken = time.process_time() - begun
            rows += found
            print(
                f"{name}: softness {facts.master_edge_sigma_px:.2f} px, noise "
                f"{facts.noise_l:.2f} L*, overshoot {facts.overshoot_share:.3f}; "
                f"{taken:.1f} s of CPU. {facts.words}"
            )
            for row in found:
                choice, rule = row.choice, row.rule
                print(
                    f"{name:11} {row.psf_sigma_um:5g} {ppi:5g} {row.distance_mm:8g} | "
                    f"{choice.radius_px:4.2f} px {choice.gain:5.2f} | "
                    f"{choice.error_before:12.3f} {choice.error_after:7.3f} "
                    f"{rule.error_after:7.3f} | {choice.visible_noise_before:11.2f} "
                    f"{choice.visible_noise_after:7.2f} "
                    f"{rule.visible_noise_after:7.2f} | {choice.deciding_bound}"
                    f"{'' if row.better else '  WORSE'}"
                )
    worse = sum(not row.better for row in rows)
    errors = np.array([[r.choice.error_after, r.rule.error_after] for r in rows])
    noises = np.array(
        [[r.choice.visible_noise_after, r.rule.visible_noise_after] for r in rows]
    )
    error_ratio, noise_ratio = (
        np.median(pair[:, 0] / pair[:, 1]) for pair in (errors, noises)
    )
    print(
        f"{len(rows)} prints; the choice has {error_ratio:.2f} of the rule's error and "
        f"{noise_ratio:.2f} of its visible noise (medians); worse in {worse}."
    )
    cpu_ms = print_times(rows)
    off = max(softness_off(name) for name in PHOTOGRAPHS)
    return worse > 0 or cpu_ms > MOST_CPU_MS or off > MOST_OFF


if __name__ == "__main__":
    sys.exit(main())
