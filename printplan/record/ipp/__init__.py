"""How is a print asked for in the words of the Internet Printing Protocol?"""
