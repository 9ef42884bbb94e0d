"""What was printed, how did it come out, and what did misprints cost?"""
