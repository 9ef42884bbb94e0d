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
from printplan.media.printer import service_printer as service_printer
from printplan.media.service import Service as Service
from printplan.media.service import ServicePaper as ServicePaper
from printplan.media.service import service_paper as service_paper
