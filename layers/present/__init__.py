"""Tables, pictures, the sheet and the files that are carried away, all by one table of looks."""

from seabed.lazy import lazily

__getattr__, __dir__, __all__ = lazily(__name__, __file__)
