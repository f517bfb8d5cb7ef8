"""A house file of settings as it stands on the disk: TOML, in UTF-8 with or without a mark."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from discwright.errors import SettingsError


def read_house_toml(path: Path, what: str) -> dict[str, Any]:
    """Every table of a house file, unchecked.

    Parameters
    ----------
    path : pathlib.Path
    what : str
        What it should be, after "there is no such file of", for example ``plating settings``.

    Raises
    ------
    SettingsError
        If it is missing, cannot be read, or is not TOML.
    """
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise SettingsError(f"{path}: there is no such file of {what}; check the path.") from None
    except OSError as trouble:
        raise SettingsError(f"{path}: cannot be read ({trouble.strerror}); check the file.") from None
    except UnicodeDecodeError:
        raise SettingsError(f"{path}: cannot be read as text (it is not UTF-8); check the file.") from None
    except (ValueError, RecursionError) as trouble:
        raise SettingsError(f"{path}: is not valid TOML ({trouble}); mend that line.") from None
