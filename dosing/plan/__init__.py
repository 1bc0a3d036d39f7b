"""From a case to an answer: the dose along its path, how it is poured, cautions, odds."""
