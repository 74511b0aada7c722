"""What the shop refuses, and why.

Refused                 the action was not done; nothing was written
├── NotEnough           a balance, a piece or a lot doesn't hold what was asked for
├── WrongUnit           the quantity's dimension isn't the item's
├── NotUsable           expired, quarantined, rejected or still curing
├── WrongState          a batch, order or fitted cutter isn't in the state the verb needs
├── NotFound            a code that no record carries
├── NotSure             it looks wrong, and is done once whoever asks for it is sure
└── AlreadyDone         the same request key came with other content
"""


class Refused(Exception):
    """What happened; which record; what to do now."""


class NotEnough(Refused):
    pass


class WrongUnit(Refused):
    pass


class NotUsable(Refused):
    pass


class WrongState(Refused):
    pass


class NotFound(Refused):
    pass


class NotSure(Refused):
    pass


class AlreadyDone(Refused):
    pass
