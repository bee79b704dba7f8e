"""Conditions over what a running engine needs: secured, fumes gone, somebody at the controls."""

from ..bay import Controls, Crew, Fumes, Gun, Secured
from .language import both, either, is_

SECURE = is_("secured", Secured.YES)
FUMES_GONE = is_("fumes", Fumes.EXTRACTION, Fumes.OUTDOORS)
CONTROLLED = either(
    is_("controls", Controls.OTHER),
    both(
        is_("controls", Controls.SELF),
        either(is_("crew", Crew.ALONE_ADULT), is_("gun", Gun.AWAY)),
    ),
)
