from .invented_scan import make_invented_scan as make_invented_scan
from .studio import make_demo_journal as make_demo_journal
from .studio import make_studio as make_studio
from .year_of_prints import SETTINGS_KEPT_ON as SETTINGS_KEPT_ON
from .year_of_prints import make_year_of_prints as make_year_of_prints
