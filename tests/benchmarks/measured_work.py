"""What a piece of work takes of its process: the processes of a crew import this."""

import os
import resource
import time


def measured(act, task):
    """
    Do it, and tell what it took.

    Returns what was found, seconds of processors, the process' peak of memory so far in
    kilobytes, and its number.
    """
    began_s = time.process_time()
    found = act(task)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return found, time.process_time() - began_s, peak, os.getpid()
