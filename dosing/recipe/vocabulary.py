"""The words in which people answer, as patterns over lower-case text."""

from __future__ import annotations

import re

UNKNOWN = re.compile(
    r"^(\?|-|)$|^(i )?(do not|don'?t|dont) (really )?know\b|^(i )?have no idea\b|^no idea\b|"
    r"^(not sure|unknown|idk|dunno|unsure)\b"
)
NONE = re.compile(r"^(none|no|nothing|0|without|zero)( (foam|foam bath|colour|petals|thanks))?$")
NUMBER = r"(?<![\d.,])\d+(?:[.,]\d+)*"
TWO_WAYS = re.compile(
    r"[-−–]\s*\d|\d\s*[/⁄]\s*\d|[½¼¾⅓⅔⅛]|\d\s+\d|\de\d|\d\s*'\s*\d|\d\s+[.,]\s|"
    r"\b(?:not|no|never|without|neither|nor|isn't|per|or)\b"
)
"""Signs, ranges, fractions, broken numbers and denials: nobody should find out in a bath."""
LENGTH = rf"({NUMBER})\s*(cm|mm|m|inches|inch|in|feet|foot|ft)\b|({NUMBER})\s*(['\"])"
SIDES = re.compile(
    rf"({NUMBER})\s*(?:x|×|by|\*)\s*({NUMBER})(?:\s*(?:x|×|by|\*)\s*({NUMBER}))?\s*"
    r"(cm|mm|m|inches|inch|in|feet|foot|ft)\b"
)
VOLUME = (
    rf"({NUMBER})\s*(ml|millilit(?:er|re)s?|l|lit(?:er|re)s?|imp gal|gal|gallons?|tbsp|tsp|"
    r"tablespoons?|teaspoons?|cups?)\b"
)
MASS = rf"({NUMBER})\s*(g|grams?|kg|oz)\b"
WORD_NUMBERS = {
    **{"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7"},
    **{"eight": "8", "nine": "9", "ten": "10", "eleven": "11", "twelve": "12"},
}
SMALL_WORDS = {
    *("a", "an", "the", "my", "our", "it", "its", "it's", "is", "are", "i", "we", "when", "in"),
    *("get", "warm"),
    *("about", "around", "roughly", "approximately", "of", "at", "and", "with", "from", "to", "by"),
    *("think", "quite", "rather", "fairly", "have", "has", "holds", "water", "tub", "bath", "bit"),
    *("but", "only", "just", "so", "on", "some", "there"),
}
COLOUR_WORDS = {
    *("petal", "petals", "dried", "dry", "flower", "flowers", "powder", "infusion", "tea", "blue"),
    *("butterfly", "pea", "brewed", "made", "hot", "strong", "ground", "steeped"),
}
FOAM_WORDS = {"foam", "bubble", "foaming", "liquid", "soap"}
FILL_WORDS = {
    *("deep", "high", "full", "half", "low", "depth", "cm", "mm", "m", "in", "inch", "inches"),
    *("ft", "foot", "feet", "l", "litres", "liters", "gal", "gallons", "imp"),
}
UNIT_WORDS = {"'": "ft", '"': "in", "foot": "ft", "feet": "ft", "inch": "in", "inches": "in"}
VAGUE = {"not", "almost", "nearly", "less", "more", "below", "under", "over", "short"}
READINGS = (
    ("carbonate_hardness", r"carbonate hardness|karbonath(?:ä|ae)rte|\bkh\b"),
    ("bicarbonate", r"bicarbonate|hydrogen carbonate|\bhco3"),
    ("alkalinity", r"alkalinity|\bta\b"),
    ("hardness", r"hardness|gesamth(?:ä|ae)rte|\bgh\b"),
    ("ph", r"\bph\b"),
)
INSTRUMENTS = (
    ("strip", r"strips?\b"),
    ("drop kit", r"drop"),
    ("meter", r"\bmeter"),
    ("water report", r"report|water company|laboratory"),
)
LIKE = (
    ("softened", r"soften"),
    ("hardest", r"hardest|extremely hard"),
    ("very-hard", r"very hard"),
    ("medium", r"medium|middling|moderate|average|so-so"),
    ("soft", r"soft"),
    ("hard", r"hard"),
)
TUBS = (
    ("foot-bath", r"foot (?:bath|basin)"),
    ("baby-bath", r"baby"),
    ("child-bath", r"child|kid"),
    (None, r"small|corner|tiny|narrow|short"),  # anything from 40 to 120 L: asked again
    ("deep-tub", r"deep|large|big|freestanding|free-standing"),
    ("bath-tub", r"usual|normal|standard|ordinary|average|bath ?tub|bath"),
)
LITTLE_ONES = r"bab(?:y|ies)|infants?|toddlers?|newborns?"
CHILDREN = (
    rf"{LITTLE_ONES}|child(?:ren)?|kids?|sons?|daughters?|nephews?|nieces?|twins|boys?|girls?|"
    r"grand(?:son|daughter|child|children)|teenagers?|teens?|little ones?"
)
ADULTS = (
    r"adults?|me|myself|us|we|i|grown|guests?|wom[ae]n|m[ae]n|wife|husband|partner|friends?|"
    r"grand(?:ma|pa|mother|father)|mothers?|fathers?|mum|mom|dad"
)
ANYONE = r"customers?|anyone|anybody|everyone|everybody|family|people"
NOBODY = r"nobody|no one|none|display|show|window|shop|basin|jar"
AGE = rf"({NUMBER})\s*-?\s*(days?|weeks?|wks?\b|months?|mths?\b|mos?\b|years?|yrs?|yo\b|y/o|y\b)?"
COUNTS = (
    r"\b\d+\s+(?=adults?|wom[ae]n|m[ae]n|guests?|friends?|people|kids?|child(?:ren)?|boys?|girls?|"
    r"bab(?:y|ies)|toddlers?|sons?|daughters?|of us)"
)
ODD_AGE = r"\d\s*[/⁄]\s*\d|[½¼¾]|(?<![\w])[-−]\s*\d"
DENIED_ADULTS = rf"\b(?:no|not|without|never)(?: an?| any)? (?:{ADULTS})\b"
DENIED_CHILDREN = rf"\b(?:no|not|without|never)(?: an?| any)? (?:{CHILDREN})\b"
