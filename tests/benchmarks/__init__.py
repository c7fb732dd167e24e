"""Speed and memory, measured by hand: `python -m tests.benchmarks.full_size`. Never asserted by the clock."""
