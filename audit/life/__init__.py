"""How long heads and bodies last in this stock, fitted from its own records."""

from audit.life.fit import LifeFit, PartLife, life
from audit.life.weibull import chance_fail

__all__ = ["LifeFit", "PartLife", "chance_fail", "life"]
