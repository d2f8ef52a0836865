"""The objects that are read: which tables, which columns, where they are. Names and numbers are the standards' own.

Every table of the Printer MIB is indexed by hrDeviceIndex first; the arcs from the module to its tables are not
uniform (RFC 3805 s6). Index columns are not accessible, so no table lists its own: a row's index is what follows the
column in an object's name.

Sources: RFC 3805 (Printer MIB), RFC 2790 (hr...), PWG 5107.1 (ppm...), RFC 3418 (sys...), RFC 2863 (if...), RFC 3635
(dot3...), RFC 4293 (ipAddress..., ipDefaultRouter..., and ipAdEnt..., which RFC 1213 had first), RFC 4292
(inetCidrRoute..., ipCidrRoute...), RFC 1213 (ipRoute...).
"""

from dataclasses import dataclass

from . import labels
from .ber import Oid
from .labels import Labels


@dataclass(frozen=True, slots=True)
class Table:
    """One conceptual table: the identifier of its row object, and its columns by name and number."""

    row: str
    oid: Oid
    columns: dict[str, int]

    def column(self, name: str) -> Oid:
        """The identifier of one column; an object is this, followed by the row's index."""
        return (*self.oid, self.columns[name])


def _oid(text: str) -> Oid:
    return tuple(map(int, text.split(".")))


# --- the agent and its system: scalars, read with .0 -----------------------------------------------------------------

SYSTEM = Table(
    "system",
    _oid("1.3.6.1.2.1.1"),
    {"sysDescr": 1, "sysObjectID": 2, "sysUpTime": 3, "sysName": 5, "sysLocation": 6},
)

# --- Host Resources --------------------------------------------------------------------------------------------------

HR_DEVICE_PRINTER = _oid("1.3.6.1.2.1.25.3.1.5")
"""hrDevicePrinter: the value of hrDeviceType in the row of a printer."""

HR_DEVICE = Table(
    "hrDeviceEntry",
    _oid("1.3.6.1.2.1.25.3.2.1"),
    {"hrDeviceType": 2, "hrDeviceDescr": 3, "hrDeviceStatus": 5},
)
HR_PRINTER = Table(
    "hrPrinterEntry",
    _oid("1.3.6.1.2.1.25.3.5.1"),
    {"hrPrinterStatus": 1, "hrPrinterDetectedErrorState": 2},
)

HR_SYSTEM = Table("hrSystem", _oid("1.3.6.1.2.1.25.1"), {"hrSystemUptime": 1})
"""A scalar, whose only row is 0."""

# --- Port Monitor MIB (PWG 5107.1) ------------------------------------------------------------------------------------

PORT_MONITOR = Table(
    "ppmPrinterEntry",
    _oid("1.3.6.1.4.1.2699.1.2.1.2.1.1"),
    {"ppmPrinterIEEE1284DeviceId": 3, "ppmPrinterHrDeviceIndex": 6},
)

# --- Printer MIB -----------------------------------------------------------------------------------------------------

GENERAL = Table(
    "prtGeneralEntry",
    _oid("1.3.6.1.2.1.43.5.1.1"),
    {"prtGeneralCurrentLocalization": 2, "prtConsoleLocalization": 10, "prtGeneralSerialNumber": 17},
)
COVER = Table(
    "prtCoverEntry",
    _oid("1.3.6.1.2.1.43.6.1.1"),
    {"prtCoverDescription": 2, "prtCoverStatus": 3},
)
LOCALIZATION = Table(
    "prtLocalizationEntry",
    _oid("1.3.6.1.2.1.43.7.1.1"),
    {"prtLocalizationCharacterSet": 4},
)
INPUT = Table(
    "prtInputEntry",
    _oid("1.3.6.1.2.1.43.8.2.1"),
    {
        "prtInputType": 2,
        "prtInputDimUnit": 3,
        "prtInputMediaDimFeedDirDeclared": 4,
        "prtInputMediaDimXFeedDirDeclared": 5,
        "prtInputMediaDimFeedDirChosen": 6,
        "prtInputMediaDimXFeedDirChosen": 7,
        "prtInputCapacityUnit": 8,
        "prtInputMaxCapacity": 9,
        "prtInputCurrentLevel": 10,
        "prtInputStatus": 11,
        "prtInputMediaName": 12,
        "prtInputName": 13,
        "prtInputDescription": 18,
        "prtInputMediaType": 21,
    },
)
OUTPUT = Table(
    "prtOutputEntry",
    _oid("1.3.6.1.2.1.43.9.2.1"),
    {
        "prtOutputType": 2,
        "prtOutputCapacityUnit": 3,
        "prtOutputMaxCapacity": 4,
        "prtOutputRemainingCapacity": 5,
        "prtOutputStatus": 6,
        "prtOutputName": 7,
    },
)
MARKER = Table(
    "prtMarkerEntry",
    _oid("1.3.6.1.2.1.43.10.2.1"),
    {"prtMarkerMarkTech": 2, "prtMarkerCounterUnit": 3, "prtMarkerLifeCount": 4, "prtMarkerPowerOnCount": 5},
)
SUPPLIES = Table(
    "prtMarkerSuppliesEntry",
    _oid("1.3.6.1.2.1.43.11.1.1"),
    {
        "prtMarkerSuppliesColorantIndex": 3,
        "prtMarkerSuppliesClass": 4,
        "prtMarkerSuppliesType": 5,
        "prtMarkerSuppliesDescription": 6,
        "prtMarkerSuppliesSupplyUnit": 7,
        "prtMarkerSuppliesMaxCapacity": 8,
        "prtMarkerSuppliesLevel": 9,
    },
)
COLORANT = Table("prtMarkerColorantEntry", _oid("1.3.6.1.2.1.43.12.1.1"), {"prtMarkerColorantValue": 4})
MEDIA_PATH = Table(
    "prtMediaPathEntry",
    _oid("1.3.6.1.2.1.43.13.4.1"),
    {
        "prtMediaPathMediaSizeUnit": 3,
        "prtMediaPathMaxMediaFeedDir": 5,
        "prtMediaPathMaxMediaXFeedDir": 6,
        "prtMediaPathMinMediaFeedDir": 7,
        "prtMediaPathMinMediaXFeedDir": 8,
        "prtMediaPathType": 9,
        "prtMediaPathDescription": 10,
        "prtMediaPathStatus": 11,
    },
)
CHANNEL = Table(
    "prtChannelEntry",
    _oid("1.3.6.1.2.1.43.14.1.1"),
    {
        "prtChannelType": 2,
        "prtChannelState": 6,
        "prtChannelIfIndex": 7,
        "prtChannelStatus": 8,
        "prtChannelInformation": 9,
    },
)
INTERPRETER = Table(
    "prtInterpreterEntry",
    _oid("1.3.6.1.2.1.43.15.1.1"),
    {
        "prtInterpreterLangFamily": 2,
        "prtInterpreterLangLevel": 3,
        "prtInterpreterDescription": 5,
        "prtInterpreterVersion": 6,
    },
)
CONSOLE_LINE = Table(
    "prtConsoleDisplayBufferEntry",
    _oid("1.3.6.1.2.1.43.16.5.1"),
    {"prtConsoleDisplayBufferText": 2},
)
CONSOLE_LIGHT = Table(
    "prtConsoleLightEntry",
    _oid("1.3.6.1.2.1.43.17.6.1"),
    {"prtConsoleOnTime": 2, "prtConsoleOffTime": 3, "prtConsoleColor": 4, "prtConsoleDescription": 5},
)
ALERT = Table(
    "prtAlertEntry",
    _oid("1.3.6.1.2.1.43.18.1.1"),
    {
        "prtAlertSeverityLevel": 2,
        "prtAlertTrainingLevel": 3,
        "prtAlertGroup": 4,
        "prtAlertGroupIndex": 5,
        "prtAlertLocation": 6,
        "prtAlertCode": 7,
        "prtAlertDescription": 8,
        "prtAlertTime": 9,
    },
)

# --- interfaces, addresses, routers ----------------------------------------------------------------------------------

INTERFACE = Table(
    "ifEntry",
    _oid("1.3.6.1.2.1.2.2.1"),
    {"ifDescr": 2, "ifType": 3, "ifSpeed": 5, "ifPhysAddress": 6, "ifOperStatus": 8},
)
INTERFACE_ERRORS = Table("ifEntry", _oid("1.3.6.1.2.1.2.2.1"), {"ifInErrors": 14, "ifOutErrors": 20})
ETHERNET = Table(
    "dot3StatsEntry", _oid("1.3.6.1.2.1.10.7.2.1"), {"dot3StatsLateCollisions": 8, "dot3StatsDuplexStatus": 19}
)
INTERFACE_MORE = Table("ifXEntry", _oid("1.3.6.1.2.1.31.1.1.1"), {"ifHighSpeed": 15})
ADDRESS = Table(
    "ipAddressEntry",
    _oid("1.3.6.1.2.1.4.34.1"),
    {"ipAddressIfIndex": 3, "ipAddressType": 4, "ipAddressPrefix": 5, "ipAddressOrigin": 6, "ipAddressStatus": 7},
)
ADDRESS_PREFIX_ORIGIN = _oid("1.3.6.1.2.1.4.32.1.5")
"""ipAddressPrefixOrigin, to which ipAddressPrefix points; the prefix length ends its index."""

OLD_ADDRESS = Table("ipAddrEntry", _oid("1.3.6.1.2.1.4.20.1"), {"ipAdEntIfIndex": 2, "ipAdEntNetMask": 3})
DEFAULT_ROUTER = Table("ipDefaultRouterEntry", _oid("1.3.6.1.2.1.4.37.1"), {"ipDefaultRouterLifetime": 4})
INET_ROUTE = Table("inetCidrRouteEntry", _oid("1.3.6.1.2.1.4.24.7.1"), {"inetCidrRouteIfIndex": 7})
CIDR_ROUTE = Table("ipCidrRouteEntry", _oid("1.3.6.1.2.1.4.24.4.1"), {"ipCidrRouteNextHop": 4})
OLD_ROUTE = Table("ipRouteEntry", _oid("1.3.6.1.2.1.4.21.1"), {"ipRouteNextHop": 7})

# --- what numbers mean -----------------------------------------------------------------------------------------------

ENUMERATIONS: dict[str, Labels] = {
    "hrDeviceStatus": labels.HR_DEVICE_STATUS,
    "hrPrinterStatus": labels.HR_PRINTER_STATUS,
    "prtCoverStatus": labels.PrtCoverStatusTC,
    "prtInputType": labels.PrtInputTypeTC,
    "prtInputDimUnit": labels.PrtMediaUnitTC,
    "prtInputCapacityUnit": labels.PrtCapacityUnitTC,
    "prtOutputType": labels.PrtOutputTypeTC,
    "prtOutputCapacityUnit": labels.PrtCapacityUnitTC,
    "prtMarkerMarkTech": labels.PrtMarkerMarkTechTC,
    "prtMarkerCounterUnit": labels.PrtMarkerCounterUnitTC,
    "prtMarkerSuppliesClass": labels.PrtMarkerSuppliesClassTC,
    "prtMarkerSuppliesType": labels.PrtMarkerSuppliesTypeTC,
    "prtMarkerSuppliesSupplyUnit": labels.PrtMarkerSuppliesSupplyUnitTC,
    "prtMediaPathMediaSizeUnit": labels.PrtMediaUnitTC,
    "prtMediaPathType": labels.PrtMediaPathTypeTC,
    "prtChannelType": labels.PrtChannelTypeTC,
    "prtChannelState": labels.PrtChannelStateTC,
    "prtInterpreterLangFamily": labels.PrtInterpreterLangFamilyTC,
    "prtConsoleColor": labels.PrtConsoleColorTC,
    "prtAlertSeverityLevel": labels.PrtAlertSeverityLevelTC,
    "prtAlertTrainingLevel": labels.PrtAlertTrainingLevelTC,
    "prtAlertGroup": labels.PrtAlertGroupTC,
    "prtAlertCode": labels.PrtAlertCodeTC,
    "ifType": labels.IANAifType,
    "ifOperStatus": labels.IF_OPER_STATUS,
    "dot3StatsDuplexStatus": labels.DUPLEX_STATUS,
    "ipAddressType": labels.IP_ADDRESS_TYPE,
    "ipAddressOrigin": labels.IpAddressOriginTC,
    "ipAddressStatus": labels.IpAddressStatusTC,
}
