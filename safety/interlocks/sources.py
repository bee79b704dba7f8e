"""Where the rules of the interlock table come from, as it is printed with each refusal."""

from ..catalogue import _

HSE_FUMES = _("HSE, Motor vehicle repair: vehicle exhaust emissions")
HSE_SECURE = _("HSE, Motor vehicle repair: introduction (brakes on, neutral, chocked)")
COSHH = _("COSHH Regulations 2002; the fluid's safety data sheet")
CLP = _("EU CLP Regulation, Annex I 2.6 (flash point not more than 60 degC); the data sheet")
TRADE = _("common practice, no source")
WORKED = _("worked limit: see 'steplatch limits'")
LOCK = _("Historic Aircraft Association note on hydraulic lock, citing an AAIB report")
MACHINERY = _("Regulation (EU) 2023/1230, Annex III 1.2")
ISOLATE = _("ISO 14118 (isolation from unexpected start-up), scope")
RECORD = _("21 CFR Part 11, 11.10 (as a model)")
AMC = _("EASA AMC 145.A.48 (as a model): the checker is not the doer")
