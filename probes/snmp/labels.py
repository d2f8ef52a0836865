"""Enumerations of the MIBs that are read here, with the standard's own names; spelt and numbered as there.

Each is written as its MIB module writes it: `label(number)`. The values come from RFC 3805 s6, from IANA-PRINTER-MIB
(revision 2011-11-04; PrtAlertCodeTC and the type names are IANA's since RFC 3805), RFC 2790, RFC 2863 and RFC 4293.
Registries grow: a number without a name is data, and `label` gives it back as decimal text.
"""

import re

Labels = dict[int, str]


def label(labels: Labels, number: int) -> str:
    """The standard's name of a number, or the number itself as text."""
    return labels.get(number) or str(number)


def _labels(text: str) -> Labels:
    return {int(number): name for name, number in re.findall(r"([\w-]+)\((-?\d+)\)", text)}


# --- Printer MIB, RFC 3805 s6 ---------------------------------------------------------------------------------------

PrtMediaUnitTC = _labels("tenThousandthsOfInches(3) micrometers(4)")
PrtCapacityUnitTC = _labels(
    "other(1) unknown(2) tenThousandthsOfInches(3) micrometers(4) sheets(8) feet(16) meters(17) items(18) percent(19)"
)
PrtMarkerCounterUnitTC = _labels(
    "tenThousandthsOfInches(3) micrometers(4) characters(5) lines(6) impressions(7) sheets(8) dotRow(9) hours(11)"
    " feet(16) meters(17)"
)
PrtMarkerSuppliesClassTC = _labels("other(1) supplyThatIsConsumed(3) receptacleThatIsFilled(4)")
PrtMarkerSuppliesSupplyUnitTC = _labels(
    "other(1) unknown(2) tenThousandthsOfInches(3) micrometers(4) impressions(7) sheets(8) hours(11)"
    " thousandthsOfOunces(12) tenthsOfGrams(13) hundrethsOfFluidOunces(14) tenthsOfMilliliters(15) feet(16) meters(17)"
    " items(18) percent(19)"
)
PrtAlertSeverityLevelTC = _labels("other(1) critical(3) warning(4) warningBinaryChangeEvent(5)")
PrtChannelStateTC = _labels("other(1) printDataAccepted(3) noDataAccepted(4)")

# --- IANA-PRINTER-MIB, revision 2011-11-04 ----------------------------------------------------------------------------

PrtCoverStatusTC = _labels("other(1) unknown(2) coverOpen(3) coverClosed(4) interlockOpen(5) interlockClosed(6)")
PrtInputTypeTC = _labels(
    "other(1) unknown(2) sheetFeedAutoRemovableTray(3) sheetFeedAutoNonRemovableTray(4) sheetFeedManual(5)"
    " continuousRoll(6) continuousFanFold(7)"
)
PrtOutputTypeTC = _labels(
    "other(1) unknown(2) removableBin(3) unRemovableBin(4) continuousRollDevice(5) mailBox(6) continuousFanFold(7)"
)
PrtMarkerMarkTechTC = _labels(
    "other(1) unknown(2) electrophotographicLED(3) electrophotographicLaser(4) electrophotographicOther(5)"
    " impactMovingHeadDotMatrix9pin(6) impactMovingHeadDotMatrix24pin(7) impactMovingHeadDotMatrixOther(8)"
    " impactMovingHeadFullyFormed(9) impactBand(10) impactOther(11) inkjetAqueous(12) inkjetSolid(13) inkjetOther(14)"
    " pen(15) thermalTransfer(16) thermalSensitive(17) thermalDiffusion(18) thermalOther(19) electroerosion(20)"
    " electrostatic(21) photographicMicrofiche(22) photographicImagesetter(23) photographicOther(24) ionDeposition(25)"
    " eBeam(26) typesetter(27)"
)
PrtMarkerSuppliesTypeTC = _labels(
    "other(1) unknown(2) toner(3) wasteToner(4) ink(5) inkCartridge(6) inkRibbon(7) wasteInk(8) opc(9) developer(10)"
    " fuserOil(11) solidWax(12) ribbonWax(13) wasteWax(14) fuser(15) coronaWire(16) fuserOilWick(17) cleanerUnit(18)"
    " fuserCleaningPad(19) transferUnit(20) tonerCartridge(21) fuserOiler(22) water(23) wasteWater(24)"
    " glueWaterAdditive(25) wastePaper(26) bindingSupply(27) bandingSupply(28) stitchingWire(29) shrinkWrap(30)"
    " paperWrap(31) staples(32) inserts(33) covers(34) matteToner(35) matteInk(36)"
)
PrtMediaPathTypeTC = _labels("other(1) unknown(2) longEdgeBindingDuplex(3) shortEdgeBindingDuplex(4) simplex(5)")
PrtChannelTypeTC = _labels(
    "other(1) unknown(2) chSerialPort(3) chParallelPort(4) chIEEE1284Port(5) chSCSIPort(6) chAppleTalkPAP(7)"
    " chLPDServer(8) chNetwareRPrinter(9) chNetwarePServer(10) chPort9100(11) chAppSocket(12) chFTP(13) chTFTP(14)"
    " chDLCLLCPort(15) chIBM3270(16) chIBM5250(17) chFax(18) chIEEE1394(19) chTransport1(20) chCPAP(21)"
    " chDCERemoteProcCall(22) chONCRemoteProcCall(23) chOLE(24) chNamedPipe(25) chPCPrint(26)"
    " chServerMessageBlock(27) chDPMF(28) chDLLAPI(29) chVxDAPI(30) chSystemObjectManager(31) chDECLAT(32)"
    " chNPAP(33) chUSB(34) chIRDA(35) chPrintXChange(36) chPortTCP(37) chBidirPortTCP(38) chUNPP(39)"
    " chAppleTalkADSP(40) chPortSPX(41) chPortHTTP(42) chNDPS(43) chIPP(44) chSMTP(45) chWSPrint(46)"
)
PrtInterpreterLangFamilyTC = _labels(
    "other(1) unknown(2) langPCL(3) langHPGL(4) langPJL(5) langPS(6) langIPDS(7) langPPDS(8) langEscapeP(9)"
    " langEpson(10) langDDIF(11) langInterpress(12) langISO6429(13) langLineData(14) langMODCA(15) langREGIS(16)"
    " langSCS(17) langSPDL(18) langTEK4014(19) langPDS(20) langIGP(21) langCodeV(22) langDSCDSE(23) langWPS(24)"
    " langLN03(25) langCCITT(26) langQUIC(27) langCPAP(28) langDecPPL(29) langSimpleText(30) langNPAP(31)"
    " langDOC(32) langimPress(33) langPinwriter(34) langNPDL(35) langNEC201PL(36) langAutomatic(37) langPages(38)"
    " langLIPS(39) langTIFF(40) langDiagnostic(41) langPSPrinter(42) langCaPSL(43) langEXCL(44) langLCDS(45)"
    " langXES(46) langPCLXL(47) langART(48) langTIPSI(49) langPrescribe(50) langLinePrinter(51) langIDP(52)"
    " langXJCL(53) langPDF(54) langRPDL(55) langIntermecIPL(56) langUBIFingerprint(57) langUBIDirectProtocol(58)"
    " langFujitsu(59) langCGM(60) langJPEG(61) langCALS1(62) langCALS2(63) langNIRS(64) langC4(65) langXPS(66)"
    " langOpenXPS(67) langJDF(68) langJMF(69) langPPML(70) langXHTMLPrint(71) langPDFis(72) langPDF13(73)"
    " langPDF14(74) langPDF15(75) langPDF16(76) langPDF17(77) langPS2(78) langPS3(79) langPCL3(80) langPCL3GUI(81)"
    " langPCL5e(82) langPCL5c(83)"
)
PrtConsoleColorTC = _labels(
    "other(1) unknown(2) white(3) red(4) green(5) blue(6) cyan(7) magenta(8) yellow(9) orange(10)"
)
PrtAlertTrainingLevelTC = _labels(
    "other(1) unknown(2) untrained(3) trained(4) fieldService(5) management(6) noInterventionRequired(7)"
)
PrtAlertGroupTC = _labels(
    "other(1) unknown(2) hostResourcesMIBStorageTable(3) hostResourcesMIBDeviceTable(4) generalPrinter(5) cover(6)"
    " localization(7) input(8) output(9) marker(10) markerSupplies(11) markerColorant(12) mediaPath(13) channel(14)"
    " interpreter(15) consoleDisplayBuffer(16) consoleLights(17) alert(18) finDevice(30) finSupply(31)"
    " finSupplyMediaInput(32) finAttribute(33)"
)
_COMMON_ALERTS = _labels(
    "coverOpen(3) coverClosed(4) interlockOpen(5) interlockClosed(6) configurationChange(7) jam(8) subunitMissing(9)"
    " subunitLifeAlmostOver(10) subunitLifeOver(11) subunitAlmostEmpty(12) subunitEmpty(13) subunitAlmostFull(14)"
    " subunitFull(15) subunitNearLimit(16) subunitAtLimit(17) subunitOpened(18) subunitClosed(19) subunitTurnedOn(20)"
    " subunitTurnedOff(21) subunitOffline(22) subunitPowerSaver(23) subunitWarmingUp(24) subunitAdded(25)"
    " subunitRemoved(26) subunitResourceAdded(27) subunitResourceRemoved(28) subunitRecoverableFailure(29)"
    " subunitUnrecoverableFailure(30) subunitRecoverableStorageError(31) subunitUnrecoverableStorageError(32)"
    " subunitMotorFailure(33) subunitMemoryExhausted(34) subunitUnderTemperature(35) subunitOverTemperature(36)"
    " subunitTimingFailure(37) subunitThermistorFailure(38)"
)
_PRINTER_ALERTS = _labels(
    "doorOpen(501) doorClosed(502) powerUp(503) powerDown(504) printerNMSReset(505) printerManualReset(506)"
    " printerReadyToPrint(507) inputMediaTrayMissing(801) inputMediaSizeChange(802) inputMediaWeightChange(803)"
    " inputMediaTypeChange(804) inputMediaColorChange(805) inputMediaFormPartsChange(806) inputMediaSupplyLow(807)"
    " inputMediaSupplyEmpty(808) inputMediaChangeRequest(809) inputManualInputRequest(810)"
    " inputTrayPositionFailure(811) inputTrayElevationFailure(812) inputCannotFeedSizeSelected(813)"
    " outputMediaTrayMissing(901) outputMediaTrayAlmostFull(902) outputMediaTrayFull(903)"
    " outputMailboxSelectFailure(904) markerFuserUnderTemperature(1001) markerFuserOverTemperature(1002)"
    " markerFuserTimingFailure(1003) markerFuserThermistorFailure(1004) markerAdjustingPrintQuality(1005)"
    " markerTonerEmpty(1101) markerInkEmpty(1102) markerPrintRibbonEmpty(1103) markerTonerAlmostEmpty(1104)"
    " markerInkAlmostEmpty(1105) markerPrintRibbonAlmostEmpty(1106) markerWasteTonerReceptacleAlmostFull(1107)"
    " markerWasteInkReceptacleAlmostFull(1108) markerWasteTonerReceptacleFull(1109)"
    " markerWasteInkReceptacleFull(1110) markerOpcLifeAlmostOver(1111) markerOpcLifeOver(1112)"
    " markerDeveloperAlmostEmpty(1113) markerDeveloperEmpty(1114) markerTonerCartridgeMissing(1115)"
    " mediaPathMediaTrayMissing(1301) mediaPathMediaTrayAlmostFull(1302) mediaPathMediaTrayFull(1303)"
    " mediaPathCannotDuplexMediaSelected(1304) interpreterMemoryIncrease(1501) interpreterMemoryDecrease(1502)"
    " interpreterCartridgeAdded(1503) interpreterCartridgeDeleted(1504) interpreterResourceAdded(1505)"
    " interpreterResourceDeleted(1506) interpreterResourceUnavailable(1507) interpreterComplexPageEncountered(1509)"
    " alertRemovalOfBinaryChangeEntry(1801)"
)
_FINISHERS = _labels(
    "stapler(302) stitcher(303) folder(304) binder(305) trimmer(306) dieCutter(307) puncher(308) perforater(309)"
    " slitter(310) separationCutter(311) imprinter(312) wrapper(313) bander(314) makeEnvelope(315) stacker(316)"
    " sheetRotator(317) inserter(318)"
)


def _finisher_alerts() -> Labels:
    """Each finisher repeats the common conditions under its own name: jam(8) is staplerJam(30208) on a stapler."""
    return {
        device * 100 + code: finisher + _capital(condition.removeprefix("subunit"))
        for device, finisher in _FINISHERS.items()
        for code, condition in _COMMON_ALERTS.items()
    }


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


PrtAlertCodeTC = {1: "other", 2: "unknown"} | _COMMON_ALERTS | _PRINTER_ALERTS | _finisher_alerts()

# --- Host Resources, RFC 2790 -----------------------------------------------------------------------------------------

HR_DEVICE_STATUS = _labels("unknown(1) running(2) warning(3) testing(4) down(5)")
HR_PRINTER_STATUS = _labels("other(1) unknown(2) idle(3) printing(4) warmup(5)")
HR_PRINTER_ERRORS = _labels(  # bit numbers; bit 0 is the most significant one of the first octet
    "lowPaper(0) noPaper(1) lowToner(2) noToner(3) doorOpen(4) jammed(5) offline(6) serviceRequested(7)"
    " inputTrayMissing(8) outputTrayMissing(9) markerSupplyMissing(10) outputNearFull(11) outputFull(12)"
    " inputTrayEmpty(13) overduePreventMaint(14)"
)

# --- Interfaces and addresses, RFC 2863 and RFC 4293 ------------------------------------------------------------------

IF_OPER_STATUS = _labels("up(1) down(2) testing(3) unknown(4) dormant(5) notPresent(6) lowerLayerDown(7)")
IANAifType = _labels(  # of the 275 that IANA had registered, those that an office device can have
    "other(1) ethernetCsmacd(6) iso88023Csmacd(7) iso88025TokenRing(9) fddi(15) ppp(23) softwareLoopback(24) slip(28)"
    " propVirtual(53) ieee80211(71) gigabitEthernet(117) tunnel(131) l2vlan(135) usb(160) ieee8023adLag(161)"
    " bridge(209)"
)
DUPLEX_STATUS = _labels("unknown(1) halfDuplex(2) fullDuplex(3)")
IP_ADDRESS_TYPE = _labels("unicast(1) anycast(2) broadcast(3)")
IpAddressOriginTC = _labels("other(1) manual(2) dhcp(4) linklayer(5) random(6)")
IpAddressStatusTC = _labels(
    "preferred(1) deprecated(2) invalid(3) inaccessible(4) unknown(5) tentative(6) duplicate(7) optimistic(8)"
)
