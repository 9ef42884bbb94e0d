from .finding import Decided as Decided
from .finding import Finding as Finding
from .finding import Level as Level
from .pixels import check_pixels as check_pixels
from .plan import check_plan as check_plan
