"""The nouns of the trade as frozen dataclasses, and the questions that they answer about themselves."""
