"""What a piece of work takes of its process: the processes of a crew import this."""

import os
import resource
import time


def measured(act, task):
    """
    Do it, and tell what it took.

    Returns what was found, seconds of processors and on the clock, the process' peak of
    memory so far in kilobytes, and its number.
    """
    cpu_s, clock_s = time.process_time(), time.perf_counter()
    found = act(task)
    cpu_s, clock_s = time.process_time() - cpu_s, time.perf_counter() - clock_s
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return found, cpu_s, clock_s, peak, os.getpid()
