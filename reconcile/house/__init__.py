"""What a house is: its bills, loads, meters, weather, tariff, place and diary, as frozen values in base units."""

from reconcile.house.house import DANGERS as DANGERS
from reconcile.house.house import House as House
from reconcile.house.measured import Action as Action
from reconcile.house.measured import Assumed as Assumed
from reconcile.house.measured import Interval as Interval
from reconcile.house.measured import Weather as Weather
from reconcile.house.parts import Band as Band
from reconcile.house.parts import Bill as Bill
from reconcile.house.parts import BillType as BillType
from reconcile.house.parts import ChargeLine as ChargeLine
from reconcile.house.parts import Event as Event
from reconcile.house.parts import Follows as Follows
from reconcile.house.parts import Load as Load
from reconcile.house.parts import Meter as Meter
from reconcile.house.parts import Plain as Plain
from reconcile.house.parts import ReadType as ReadType
from reconcile.house.parts import RegisterReading as RegisterReading
from reconcile.house.parts import Service as Service
from reconcile.house.parts import Source as Source
from reconcile.house.parts import plain_value as plain_value
