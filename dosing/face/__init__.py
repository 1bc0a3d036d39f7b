"""The pleasant Python face: a tub as its maker knows it, and what it answers."""

from dosing.face.tub import Answer, Tub

__all__ = ["Answer", "Tub"]
