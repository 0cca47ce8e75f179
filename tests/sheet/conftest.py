"""The browser that the tests of the sheet's page share."""

from sheet.browser import address, opened

__all__ = ["address", "opened"]
