package typec

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/quantity"
)

// figure is a row of testdata/figures.json: one figure as it was read in the
// source named in the row.
type figure struct {
	ID            string
	Min, Typ, Max *float64
	Unit          string
	Source        string
	Provenance    string
}

func readFigures(t *testing.T) []figure {
	t.Helper()
	raw, err := os.ReadFile("testdata/figures.json")
	require.NoError(t, err)
	var file struct{ Rows []figure }
	require.NoError(t, json.Unmarshal(raw, &file))
	require.NotEmpty(t, file.Rows)
	return file.Rows
}

// readCSV returns the rows of a table as maps from column to text.
func readCSV(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(lines), 1)
	var rows []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, cell := range line {
			row[lines[0][i]] = cell
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return v
}

// stated maps the rows of the table to the functions of this package.
func stated() map[string]Range {
	return map[string]Range{
		"rd_nominal": RdNominal(), "rd_tol10": RdWindow(Within10), "rd_tol20": RdWindow(Within20),
		"rd_clamp": DeadBatteryClamp(), "rd_vmax10": CCMaximum(Within10), "rd_vmax20": CCMaximum(Within20),
		"rd_chip_trim": RdController(true), "rd_chip_db": RdController(false), "ra": RaWindow(),
		"zopen": ZOpen(), "vcc_clamp": CCClamp(), "zsbu": SBUOpen(), "cc_absmax": CCAbsoluteMaximum(),
		"cc_leak_off": SourceCCLeakage(), "cc_leak_off2": SinkCCLeakage(),

		"rp_i_default": Rp(Default, CurrentSource), "rp_r5_default": Rp(Default, To5V), "rp_r3_default": Rp(Default, To3V3),
		"rp_i_1p5A": Rp(A1500, CurrentSource), "rp_r5_1p5A": Rp(A1500, To5V), "rp_r3_1p5A": Rp(A1500, To3V3),
		"rp_i_3p0A": Rp(A3000, CurrentSource), "rp_r5_3p0A": Rp(A3000, To5V), "rp_r3_3p0A": Rp(A3000, To3V3),
		"rp_legacy_cable": LegacyRp(), "rp_ctrl_default": ControllerRp(Default),
		"rp_ctrl_med": ControllerRp(A1500), "rp_ctrl_high": ControllerRp(A3000),

		"snk_vra": SinkOpen(R20), "snk_vrd_connect": SinkConnect(Within10, R20),
		"snk_vrd_usb": SinkWindow(Default, R20), "snk_vrd_1p5": SinkWindow(A1500, R20), "snk_vrd_3p0": SinkWindow(A3000, R20),
		"snk_th_020": SinkThreshold(Default), "snk_th_066": SinkThreshold(A1500), "snk_th_123": SinkThreshold(A3000),
		"snk_disc_249": SinkConnect(Within20, R25), "snk25_vrd_usb": SinkWindow(Default, R25),
		"snk25_vrd_1p5": SinkWindow(A1500, R25), "snk25_vrd_3p0": SinkWindow(A3000, R25),
		"src_th_ra_def": RaThreshold(Default), "src_th_ra_1p5": RaThreshold(A1500), "src_th_ra_3p0": RaThreshold(A3000),
		"src_th_open_def": OpenThreshold(Default), "src_th_open_1p5": OpenThreshold(A1500), "src_th_open_3p0": OpenThreshold(A3000),
		"src_vrd_def": SourceRd(Default, R20), "src_vrd_1p5": SourceRd(A1500, R20), "src_vrd_3p0": SourceRd(A3000, R20),
		"src_vra_def": SourceRa(Default, R20), "src_vra_1p5": SourceRa(A1500, R20), "src_vra_3p0": SourceRa(A3000, R20),
		"src_vopen_def": SourceOpen(Default, R20), "src_vopen_3p0": SourceOpen(A3000, R20),
		"src25_cur_rd_usb": SourceRd(Default, R25), "src25_cur_rd_1p5": SourceRd(A1500, R25), "src25_cur_rd_3p0": SourceRd(A3000, R25),
		"src25_voffset": OpenOffset(),
		"db_cc_def":     DeadBatteryCC(Default), "db_cc_1p5": DeadBatteryCC(A1500), "db_cc_3p0": DeadBatteryCC(A3000),

		"tCCDebounce": TCCDebounce(), "tPDDebounce": TPDDebounce(), "tTryCCDebounce": TTryCCDebounce(), "tVBUSON": TVBUSOn(),
		"tVBUSOFF": TVBUSOff(), "tVsafe0V": TVSafe0V(), "tBulkDischarge": TBulkDischarge(), "tSinkDisconnect": TSinkDisconnect(),
		"vSinkDisconnect": VSinkDisconnect(), "tRpValueChange": TRpValueChange(), "tSinkAdj": TSinkAdj(),
		"tSRCDisconnect": TSRCDisconnect(), "tErrorRecovery": TErrorRecovery(), "tVCONNON": TVCONNOn(), "tVCONNOFF": TVCONNOff(),
		"tNoToggleConnect": TNoToggleConnect(), "tOnePortToggleConnect": TOnePortToggleConnect(),
		"tTwoPortToggleConnect": TTwoPortToggleConnect(), "tDRP": TDRP(), "dcSRCDRP": DCSRCDRP(), "tDRPTry": TDRPTry(),
		"tDRPTryWait": TDRPTryWait(), "t_attach_worst": AttachWorst(), "t_detach_worst": DetachWorst(),

		"vSafe5V": VSafe5V(), "vSafe0V": VSafe0V(), "vbus_legacy_hp": LegacyVBUS(), "vbus_legacy_lp": LegacyLowPowerVBUS(),
		"vbus_usb3_port": HostVBUS(), "vbus_dev_min": DeviceVBUS(), "z_src_leak": SourceLeakage(), "c_snk_type_c": SinkCapacitance(),
		"c_snk_bulk_pd": SinkBulk(true), "c_src_only": SourceBulkMaximum(), "c_src_bulk": SourceBulk(), "inrush_load": InrushLoad(),
		"inrush_charge": InrushCharge(), "inrush_threshold": InrushThreshold(), "i_default_usb2": CurrentLimit(Default),
		"i_default_usb3": CurrentLimitUSB3(), "i_1p5": CurrentLimit(A1500), "i_3p0": CurrentLimit(A3000),
		"i_unconf": UnconfiguredCurrent(), "i_suspend": SuspendCurrent(), "i_dcp": ChargingPortCurrent(), "r_dcp": ChargingPortShort(),
		"i_backfeed": BackFeed(), "usb2_no_source": UpstreamCurrent(),

		"ir_vbus": DropVBUS(), "ir_gnd": DropGND(), "r_vbus_3a": PathVBUS(), "r_gnd_3a": PathGND(), "v_at_sink_min": SinkVBUS(),
		"llcr_init": ContactResistance(false), "llcr_after": ContactResistance(true), "durability": MateCycles(),
		"temp_rise": ContactTemperatureRise(), "i_contact_cc": CCContactCurrent(),

		"chg_vreg": ChargeEnd(), "chg_prec_ratio": PrechargeRatio(), "chg_term_ratio": TerminationRatio(),
		"chg_rech_ratio": RechargeRatio(), "chg_rev_leak": ChargerLeakage(), "jeita_std": ChargeTemperature(),

		// The rating is the middle column of the source; as a limit it is a maximum.
		"i_cable":    asTypical(CableRating(false)),
		"i_cable_em": asTypical(CableRating(true)),
	}
}

func asTypical(r Range) Range {
	r.Typ, r.Max.SI = r.Max, math.Inf(1)
	return r
}

// inSI converts a cell with the unit spelling of the table.
func inSI(t *testing.T, v float64, unit string) float64 {
	t.Helper()
	switch unit {
	case "cycles":
		return v
	case "% of I fast", "% of VREG":
		return v / 100
	case "degC":
		return v // a rise; the caller converts what is a temperature
	}
	_, scale, err := quantity.ParseUnit(unit)
	require.NoError(t, err)
	return v * scale
}

func TestFiguresAreThoseOfTheSources(t *testing.T) {
	functions := stated()
	rows := readFigures(t)
	require.Len(t, functions, len(rows), "every row has a function and every function a row")
	for _, row := range rows {
		t.Run(row.ID, func(t *testing.T) {
			r, ok := functions[row.ID]
			require.True(t, ok)
			side := func(name string, cell *float64, got float64, has bool) {
				require.Equal(t, cell != nil, has, name)
				if cell == nil {
					return
				}
				want := inSI(t, *cell, row.Unit)
				if row.Unit == "degC" && row.ID != "temp_rise" {
					want = quantity.Celsius(*cell).SI
				}
				require.InDelta(t, want, got, 5e-4*math.Abs(want), name)
			}
			side("min", row.Min, r.Min.SI, r.HasMin())
			side("typ", row.Typ, r.Typ.SI, r.HasTyp())
			side("max", row.Max, r.Max.SI, r.HasMax())
			for _, place := range regexp.MustCompile(`Table \d-\d+( note \d)?|\d+\.\d+\.[\d.]*\d`).FindAllString(r.Source, -1) {
				require.Contains(t, row.Source, place, "the table or section cited")
			}
			require.NotEmpty(t, r.Source)
			require.Equal(t, row.Provenance == "from memory", r.Basis == Memory, "basis")
			require.Equal(t, r.Basis == Memory, strings.HasPrefix(r.Source, "from memory: "))
		})
	}
}

func TestEverythingWithoutARowIsOrdered(t *testing.T) {
	more := map[string]Range{
		"sink connect ±20 % R2.0": SinkConnect(Within20, R20), "sink connect ±10 % R2.5": SinkConnect(Within10, R25),
		"sink open R2.5": SinkOpen(R25), "sink bulk at attach": SinkBulk(false), "inrush ohms": InrushOhms(),
		"supply of a current source": PullUpSupply(CurrentSource), "5 V supply": PullUpSupply(To5V), "3.3 V supply": PullUpSupply(To3V3),
	}
	for _, a := range Advertisements() {
		more["open R2.5 "+a.String()] = SourceOpen(a, R25)
		more["Ra R2.5 "+a.String()] = SourceRa(a, R25)
	}
	for name, r := range stated() {
		more[name] = r
	}
	for name, r := range more {
		t.Run(name, func(t *testing.T) {
			require.LessOrEqual(t, r.Min.SI, r.Max.SI)
			if r.HasTyp() {
				require.True(t, r.Contains(r.Typ))
			}
			require.NotEmpty(t, r.String())
			require.NotEmpty(t, r.Source)
		})
	}
}

func TestRangeSpeaks(t *testing.T) {
	require.Equal(t, "4.59 kΩ to 5.61 kΩ, nominal 5.1 kΩ", RdWindow(Within10).String())
	require.Equal(t, "at most 500 mV", DropVBUS().String())
	require.Equal(t, "at least 126 kΩ", ZOpen().String())
	require.Equal(t, "nominal 10 µF", InrushLoad().String())
	require.False(t, RdWindow(Within10).Contains(quantity.Volts(5100)), "a voltage is in no range of resistances")
	require.True(t, RdWindow(Within10).Contains(quantity.Ohms(4590)), "limits belong to the range")
	require.False(t, RdWindow(Within10).Contains(quantity.Ohms(4589)))
	require.False(t, RdWindow(Within10).Contains(quantity.Ohms(math.NaN())))
	require.Equal(t, "seen, computed, from memory", Seen.String()+", "+Computed.String()+", "+Memory.String())
}

func TestSupplyOfThePullUps(t *testing.T) {
	// 3.3 V ±5 % and 4.75 V to 5.5 V, R2.5 Table 4-27.
	require.InDelta(t, 3.3*0.95, PullUpSupply(To3V3).Min.SI, 1e-12)
	require.InDelta(t, 3.3*1.05, PullUpSupply(To3V3).Max.SI, 1e-12)
	require.Equal(t, VSafe5V().Min.SI, PullUpSupply(To5V).Min.SI)
	require.Equal(t, VSafe5V().Max.SI, PullUpSupply(To5V).Max.SI)
}

func TestDischarge(t *testing.T) {
	for _, row := range readCSV(t, "discharge.csv") {
		t.Run(row["uF"]+" µF", func(t *testing.T) {
			farads := number(t, row["uF"]) * 1e-6
			require.InDelta(t, number(t, row["seconds"]), DischargeSeconds(farads, 72.4e3, 5.5, 0.8), 6e-4)
			require.InDelta(t, number(t, row["kohm"]), BleedOhms(farads)/1e3, 6e-3)
		})
	}
	require.True(t, math.IsNaN(DischargeSeconds(1, 1, 5, 0)), "zero is never reached")
	require.True(t, math.IsNaN(DischargeSeconds(1, 1, math.NaN(), 1)))
}

func TestBackFeedLimit(t *testing.T) {
	// 0.8 V / 72.4 kΩ; a charger of the 2 µA class holds 0.145 V there.
	require.Equal(t, "11.05 µA", BackFeed().Max.Text(4))
	require.InDelta(t, 0.145, ChargerLeakage().Max.SI*SourceLeakage().Min.SI, 5e-4)
}

func TestChargeEnds(t *testing.T) {
	// 4.20 V ±1 %.
	require.InDelta(t, 4.2*0.99, ChargeEnd().Min.SI, 1e-9)
	require.InDelta(t, 4.2*1.01, ChargeEnd().Max.SI, 1e-9)
	cold, hot := ChargeForbidden()
	require.Equal(t, "0 °C, 60 °C", cold.String()+", "+hot.String())
	require.Equal(t, "10 °C to 45 °C", ChargeTemperature().String())
}

func TestNamesParseBack(t *testing.T) {
	for _, a := range Advertisements() {
		back, err := ParseAdvertisement(a.String())
		require.NoError(t, err)
		require.Equal(t, a, back)
	}
	_, err := ParseAdvertisement("2 A")
	require.EqualError(t, err, `advertisement "2 A": want "default", "1.5 A" or "3.0 A"`)
	for _, r := range Revisions() {
		back, err := ParseRevision(r.String())
		require.NoError(t, err)
		require.Equal(t, r, back)
	}
	_, err = ParseRevision("R3")
	require.EqualError(t, err, `revision "R3" of the CC voltage tables: want "R2.0" or "R2.5"`)
	require.Equal(t, "±10 %, ±20 %", Within10.String()+", "+Within20.String())
	require.True(t, Within10.MayResolve())
	require.False(t, Within20.MayResolve())
}
