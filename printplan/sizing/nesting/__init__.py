"""How do many prints go on as little paper as may be?"""
