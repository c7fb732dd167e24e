"""From any contractor's files to clean tables: nothing lost, every change said. See `read`."""

from audit.intake.columns import Unclear, map_text, read_map, write_map
from audit.intake.reading import Reading, read

__all__ = ["Reading", "Unclear", "map_text", "read", "read_map", "write_map"]
