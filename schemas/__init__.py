"""What a row must look like: words, columns, and checks of every table read or written.

Nothing here imports from `audit` or `reports`.
"""
