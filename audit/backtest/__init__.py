"""How well the ranking would have done: an earlier day's ranking scored against what failed next."""

from audit.backtest.score import Score, score
from audit.backtest.told import figures, sentences

__all__ = ["Score", "figures", "score", "sentences"]
