"""What a customer is never told."""

NEVER = (
    "restored",
    "like new",
    "as new",
    "guarantee",
    "owner's risk",
    "% clean",
    "percent clean",
    "fully clean",
)
"""Words and parts of words never said to a customer."""
