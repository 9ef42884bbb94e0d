"""What tests give a crew to do: its processes import it by this name."""

import os
import signal
import time

from printplan.errors import SpecError
from printplan.processor_share import threads_at_most


def tenfold(number):
    return 10 * number


def dies_at_three(number):
    if number == 3:
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(0.02)
    return 10 * number


def refuses_at_three(number):
    if number == 3:
        raise SpecError("It is 3.", remedy="Give 2.")
    if number == 4:
        raise ZeroDivisionError("of ours")
    return 10 * number


def threads_of(_):
    return os.environ["OMP_NUM_THREADS"], os.getpid(), threads_at_most(4)


def writes_until_told(path):
    """Something that leaves a file only if it may come to its end."""
    try:
        path.write_text("begun")
        time.sleep(60)
    except BaseException:
        path.unlink()
        raise
