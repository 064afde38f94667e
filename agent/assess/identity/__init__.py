"""Is this module piped as it is described? How well each layout explains what its hours show.

It weighs piping only: names and sizes tell nothing, and nothing is ever relabelled.
"""

from agent.assess.identity.conclusion import Conclusion, Identity, identity
from agent.assess.identity.verdicts import Explains, Reason
from agent.assess.identity.weighing import Weighed

__all__ = ["Conclusion", "Explains", "Identity", "Reason", "Weighed", "identity"]
