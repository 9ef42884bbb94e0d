"""What is printed to learn from, and what do its patches and its scan say?"""
