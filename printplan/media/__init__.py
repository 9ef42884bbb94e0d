"""What are the paper and the printer? Frozen values, without files or pixels."""

from printplan.media.paper import Paper as Paper
from printplan.media.paper import PaperOnPrinter as PaperOnPrinter
from printplan.media.paper import Stock as Stock
from printplan.media.paper import Surface as Surface
from printplan.media.printer import BIT_DEPTHS as BIT_DEPTHS
from printplan.media.printer import DriverColour as DriverColour
from printplan.media.printer import FeedPath as FeedPath
from printplan.media.printer import Margins as Margins
from printplan.media.printer import MediaForm as MediaForm
from printplan.media.printer import Printer as Printer
