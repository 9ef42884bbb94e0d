from .enlargement import true_resolution as true_resolution
from .layout import lay_out as lay_out
from .media_sizes import media_size_mm as media_size_mm
from .print_size import acuity_ppi as acuity_ppi
from .print_size import effective_ppi as effective_ppi
from .print_size import print_size_mm as print_size_mm
from .print_size import print_size_px as print_size_px
from .resampling import resample as resample
