"""What does each control of a plan do, and which way is it moved?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from printplan.workbook.panels.controls import parts_of

if TYPE_CHECKING:
    import ipywidgets as widgets

TIPS: Final = {
    # Paper and printer
    "paper": "Paper of the paper book; what was last chosen for it comes back",
    "printer": "Printer of the paper book that prints it",
    "setup": "Which profile and quality of this paper on this printer",
    "its colours are": "How to read a master that carries no profile",
    "transparency": "What to do with a master that is transparent",
    "Cancel": "Go back to what was there before",
    # Size and place
    "lengths in": "Unit that lengths are given and told in; no pixel changes",
    "size by": "Which length is given; the other follows from the photograph",
    "width": "Of the picture on paper; longer shows fewer master pixels an inch",
    "height": "Of the picture on paper; longer shows fewer master pixels an inch",
    "edge": "Longest edge of the picture on paper",
    "crop, across": "Which part is kept: left 0, right 1",
    "crop, down": "Which part is kept: top 0, bottom 1",
    "resolution": "Print pixels an inch; those listed the printer takes as they are",
    "sheet": "Size of the paper; sizes kept of this paper are listed",
    "feed path": "Way into the printer; its margins are hatched on the sheet",
    "orientation": "How the sheet lies; by the picture follows its longer edge",
    "on the roll": "Which edge lies across it; the length follows from the other",
    "placement": "The optical centre leaves a little more white below",
    "offset right": "Moves the picture: to the right above 0, to the left below",
    "offset down": "Moves the picture: down above 0, up below",
    "border": "White that is kept round the picture; longer keeps more",
    # Mount and edges
    "mount": "What the print goes into; checked, and changes no pixel",
    "opening by": "A size, or one that follows the picture when that changes",
    "opening width": "Of the mat, as the picture stands",
    "opening height": "Of the mat, as the picture stands",
    "overlap": "Picture under the mat on each side",
    "white round": "White paper seen in the opening; the sheet must reach under it",
    "white below": "More of it below takes a signature and a number",
    "frame": "Of wood or metal round the mat; sold by the size of its glass",
    "frame width": "Of its glass, as the picture hangs",
    "frame height": "Of its glass, as the picture hangs",
    "frame hides": "What its edge lies over of the glass; measure it at the back",
    "mat size by": "The mat itself: as the frame's glass, its own, or by margins",
    "mat width": "Of the board, outside",
    "mat height": "Of the board, outside",
    "margin": "Board at the left, at the right and above; the mat follows",
    "margins": "How the board above and below the opening is shared out",
    "foot wider by": "More board below than above; 0 is equal",
    "wrap": "Picture that goes round the bar; longer leaves less front",
    "bar depth": "Depth of the stretcher's bar",
    "canvas sides": "Printed beside the size asked, to go round a bar",
    "turned over": "Printed further, to be fixed at the back",
    "left side": "What goes round the bar at the left",
    "top side": "What goes round the bar above",
    "right side": "What goes round the bar at the right",
    "bottom side": "What goes round the bar below",
    "edge used": "Of the front's edge: what is stretched, or gives the mean",
    "shrinks across": "Shorter when it hangs than as printed, across the feed",
    "shrinks along": "Shorter when it hangs than as printed, along the feed",
    "key line": "Thickness of a line round the picture; 0 is none",
    "white inside it": "Between picture and line",
    "its lightness": "0 is the paper's black",
    "cut marks": "Outside picture and border; a canvas gets marks of its folds too",
    "caption: title": "Printed below the picture; empty leaves it out",
    "caption: edition": "Its number; empty leaves it out",
    "caption: date": "Empty leaves it out",
    "caption: paper": "Its name in the paper book",
    "caption: size": "Of the picture",
    "letters": "Height of the caption's capitals",
    "white above it": "Between picture, or cut, and caption",
    "deckle": "Kept clear of uneven edges of the sheet",
    "borderless bleed": "Printed beyond each edge of the sheet, and lost there",
    "bleed": "Picture beyond the print on each side, which is trimmed off",
    # Sharpness
    "sharpening": "Auto chooses by picture, paper and distance; manual is yours",
    "restore": "Share of the paper's loss to put back: 1 is all, more exaggerates",
    "halo limit": "Greatest overshoot at an edge in the print; lower is calmer",
    "gain": "How much; 0 is none",
    "radius": "How wide, on paper; finer detail wants less",
    "grain floor": "Steps of lightness up to here stay; raise it if grain shows",
    "viewing distance": "From eye to print; farther wants wider and less",
    "seen from": "From eye to print; farther wants wider and less",
    "window, across": "Where to look: left 0, right 1",
    "window, down": "Where to look: top 0, bottom 1",
    "show": "The window before sharpening, after it, both, or as an eye sees it",
    "Draw edge and responses": "Draw the strongest edge here, and what is lost where",
    # Colour
    "intent": "How colours that the paper cannot hold are moved into it",
    "black point": "On: shadows are scaled to the paper's black; off: they merge",
    "lighten": "Raises the middle tones for a dim room; below 0 darkens",
    "proof": "Seen by an eye used to this paper, or beside a whiter white",
    # Questions on paper
    "page": "Size of the sheet that it is printed on",
    "Write the page of questions": "Writes a new PDF into the lesson's folder",
    # The file
    "colour": "Converted for the printer, or left to whoever prints",
    "space": "Space that a print service asks for",
    "format": "Kind of file; 16 bits keep more steps where the driver takes them",
    "covers": "The sheet with its white, or the picture alone",
    "file name": "Of the next file; a name that is taken gets a number",
    "plan file": "Another name saves another plan",
    "note in the plan": "Goes with the plan, and into the record of each file",
    "note": "A few words for the record of the next file",
    "Save this plan": "Write what is chosen into the plan's file",
    "Render the file": "Make the file with its record; nothing is written over",
    "Render despite findings": "Make it although a finding says stop",
    "Write the decision sheet": "Write the page to file away, beside the record",
    "Write the answers into the record": "Keep what was done about each finding",
    # The journal
    "record": "Print that is noted, by its record",
    "Find new records": "Read the folder anew, and choose the newest",
    "printed at": "When it came out of the printer; empty: now",
    "outcome": "A trial does not count among good prints and misprints",
    "cause": "What the print was lost to",
    "finding that warned": "The finding that had said so before ink was spent",
    "copies": "How many came out alike",
    "ink per copy": "As the printer counted it; 0 is not known",
    "edition": "Numbered copies of one picture, in one size",
    "title": "Of the edition: the picture's",
    "edition size": "How many copies there will ever be",
    "Add to the journal": "It stays: a slip is struck out, never wiped away",
    "Export all prints": "As a table for other programs, beside the journal",
    "entry": "One of the newest",
    "reason": "Why the entry is struck out",
}
"""By the words on the control, without their unit."""


def give_tips(ui: widgets.Widget) -> None:
    """Give every control in a part of the page its tip, unless it has one."""
    for part in parts_of(ui):
        words = getattr(part, "description", "")
        tip = TIPS.get(words.partition(" (")[0]) if words else None
        if tip is not None and not part.tooltip:
            part.tooltip = tip
