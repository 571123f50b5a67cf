"""The smallest rule base that is valid and on which there is nothing to remark."""

from pathlib import Path
from typing import Any

import yaml

from troubleshoot.knowledge.load import shipped

Data = dict[str, Any]


class _Plain(yaml.SafeDumper):
    """Writes equal parts twice: rules may hold no aliases."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


def rules() -> Data:
    """Two causes of one complaint, each with its own finding, check and remedy.

    The settings are the shipped ones, since they belong to the reasoning. Fresh each time.
    """
    return {
        "complaints": {
            "slow": {
                "source": "judgement",
                "name": "Slow",
                "says": ["it is slow"],
                "counts_when": "It takes twice the usual time.",
                "place": "coater",
                "normal_share": 0.1,
                "unlisted_share": 0.05,
                "normal": "It is within its band.",
                "still_there": "Is it still slow?",
            }
        },
        "findings": {
            "hiss": {
                "source": "judgement",
                "name": "Hiss",
                "ask": "Does it hiss?",
                "kind": "yes_no",
                "answers": {"yes": "Yes", "no": "No"},
                "background": {"yes": 0.05, "no": 0.95},
            },
            "tint": {
                "source": "judgement",
                "name": "Tint",
                "ask": "Which tint has it?",
                "kind": "choice",
                "answers": {"clear": "Clear", "dark": "Dark", "milky": "Milky"},
                "background": {"clear": 0.8, "dark": 0.15, "milky": 0.05},
            },
        },
        "groups": {
            "ears": {"source": "judgement", "name": "a bad ear", "findings": ["hiss"]},
        },
        "mechanisms": {
            "leak": {
                "source": "judgement",
                "name": "Air comes in",
                "what": "Air comes in.",
                "shows": {"hiss": 0.7},
            }
        },
        "causes": {
            "lid_loose": {
                "source": "judgement",
                "name": "Lid loose",
                "what": "The lid sits loose.",
                "subsystem": "lid",
                "nature": "technique",
                "share": 2.0,
                "mechanisms": ["leak"],
                "complaints": {"slow": 0.6},
                "remedies": ["seat_lid"],
                "today": {"verdict": "coat", "note": "Seat it and coat."},
            },
            "bulb_dark": {
                "source": "judgement",
                "name": "Bulb dark",
                "what": "The bulb has gone dark.",
                "subsystem": "lamp",
                "nature": "fault",
                "share": 1.0,
                "complaints": {"slow": 0.4},
                "shows": {"tint": {"dark": 0.9}},
                "remedies": ["change_bulb"],
                "today": {"verdict": "coat", "note": "Coat all the same."},
            },
        },
        "checks": {
            "listen": {
                "source": "judgement",
                "name": "Listen",
                "say": "Listen to it.",
                "steps": ["Be quiet and listen."],
                "state": "any",
                "minutes": {"hands": 1},
                "reveals": ["hiss"],
            },
            "look": {
                "source": "judgement",
                "name": "Look",
                "say": "Look at it.",
                "steps": ["Look at it from the side."],
                "state": "any",
                "minutes": {"hands": 1},
                "reveals": ["tint"],
            },
        },
        "remedies": {
            "seat_lid": {
                "source": "judgement",
                "name": "Seat the lid",
                "say": "Seat the lid.",
                "steps": ["Lay it down straight."],
                "state": "vented",
                "minutes": {"hands": 2},
                "hazards": ["fingers"],
                "cures": {"lid_loose": 0.9},
                "proof": "listen",
            },
            "change_bulb": {
                "source": "judgement",
                "name": "Change the bulb",
                "say": "Change the bulb.",
                "steps": ["Turn the old one out and the new one in."],
                "state": "vented",
                "minutes": {"hands": 3, "wait": 1},
                "cures": {"bulb_dark": 0.9},
                "proof": "look",
            },
        },
        "cautions": {
            "fingers": {
                "source": "judgement",
                "name": "Fingers",
                "hazard": "The lid pinches.",
                "precaution": "Hold it by its rim.",
            },
            "smoke": {
                "source": "judgement",
                "name": "Smoke",
                "hazard": "Something burns.",
                "precaution": "Go away from it.",
                "stop_now": True,
                "make_safe": ["Mains off at the wall."],
                "bans": ["mains_on"],
            },
        },
        "signs": {
            "smell": {
                "source": "judgement",
                "name": "Smell",
                "ask": "Does it smell burnt?",
                "caution": "smoke",
            }
        },
        **yaml.safe_load((shipped() / "settings.yaml").read_text(encoding="utf-8")),
    }


def write(folder: Path, data: Data, name: str = "all.yaml") -> Path:
    """`data` as one file of rules in `folder`, which is returned."""
    folder.mkdir(parents=True, exist_ok=True)
    text = yaml.dump(data, Dumper=_Plain, sort_keys=False, allow_unicode=True, width=100)
    (folder / name).write_text(text, encoding="utf-8")
    return folder


def svg(inside: str = '<circle cx="60" cy="40" r="30"/>') -> str:
    """A drawing of the right size with `inside` in it."""
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 120 80">{inside}</svg>'


def draw(folder: Path, name: str, text: str | None = None) -> Path:
    """A drawing in the folder for drawings of `folder`; its path is returned."""
    path = folder / "drawings" / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(svg() if text is None else text, encoding="utf-8")
    return path
