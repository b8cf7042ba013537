"""Pictures of what the other rooms find; they need matplotlib, the extra `pictures`."""

from thermofit.report.errors import check_pictures, save_picture, substitute_errors

__all__ = ["check_pictures", "save_picture", "substitute_errors"]
