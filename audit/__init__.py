"""The engine: reads the books, judges every valve, chooses, plans. Data flows one way, see DEVELOPERS.md."""

__version__ = "0.1.0"
