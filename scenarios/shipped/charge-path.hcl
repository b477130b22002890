# charge-path: every supply that the owner may plug in, and the cell behind it.
#
# The order is the order of harm: what could be shorted is probed before power,
# terminations before supplies, the controls before what rests on them, the
# cell's hazards last. Every limit names its source; "common practice, no
# source" stands where there is none. Limits of the product's own figures begin
# beyond its tolerance, so that no good unit is rejected by the guard band.

scenario "charge-path" {
  title    = "Charge path, complete"
  version  = "1"
  decision = "guarded"
  guard    = 1
  windows  = "shared"

  # What the guard answers for the unit, when it trips with the unit seated and
  # does not trip without it.
  interlock "over-current" {
    title   = "The current stays below the product's ceiling"
    because = ["legacy-current"]
    rework  = "Look for what draws the current: the charger's programming resistor, a part that gets hot."
  }
  interlock "over-voltage" {
    title  = "VBUS stays below 5.5 V"
    rework = "Something on the board raises VBUS above every supply of the bench: look for a boost converter that feeds the port."
    bin    = "quarantine"
  }
  interlock "vbus-held" {
    title  = "VBUS falls when nothing feeds it"
    rework = "The cell feeds the port: check the charger's reverse blocking and bridges between the cell and VBUS."
    bin    = "quarantine"
  }

  # ------------------------------------------- the bench, with nothing seated

  # A charger that asks the data lines is judged through contacts of the bench
  # that no check of a seated unit can tell from its own: a contact that stays on
  # the other side stands in for a data pin that is not soldered. So they are
  # looked at before. What stands on the pair loads a pull-up of 36 kΩ at 3.3 V: two
  # resistors of 1.5 MΩ as the plug sits, two of 390 kΩ the other way round, and
  # 1.02 MΩ of the voltmeter, 432 and 164 kΩ. One line on the wrong side makes 238 kΩ
  # of either, one that touches nothing 607 and 282 kΩ, a pair that is not turned
  # the other of the two.
  stage "data-pair" {
    title = "The bench's data contacts"
    nest  = "empty"
    when  = has.charger.asks_data && !has.cell.absent
    for_each = [
      { key = "normal", low = "310 kΩ", high = "515 kΩ" },
      { key = "flipped", low = "140 kΩ", high = "195 kΩ" },
    ]

    enter "data-pair" {
      orientation = each.key
    }
    read "data-load" {
      channel = channel.cc1
    }

    control "data-contacts" {
      kind   = "positive"
      title  = "The data pair touches the contacts of this side, and no other"
      value  = "36 kΩ" * reading.data-load / ("3.3 V" - reading.data-load)
      low    = each.low
      high   = each.high
      source = "wiring file, all tolerances at their worst ends: between what stands on the pair (385 to 479, 156 to 172 kΩ) and the nearest that a wrong contact makes of it (222 to 254, from 522 kΩ)"
    }
  }

  # ------------------------------------------------- who is seated, and safe

  stage "seat" {
    title = "Seated, not shorted"

    probe "seat" {
      title = "VBUS under the probe current"
    }

    check "vbus-not-shorted" {
      title  = "VBUS is not shorted and not reversed"
      value  = reading.seat.top
      low    = "1 V"
      source = "common practice, no source: 5 mA into 200 Ω, and more than a diode's voltage"
      gate   = true
      rework = "Look for a bridge between VBUS and ground at the receptacle and at the bulk capacitor; check the polarity of protection parts."
    }

    check "vbus-capacitance" {
      title    = "VBUS capacitance as fitted, and no more than a sink may show"
      value    = reading.seat.capacitance
      low      = 0.8 * product.port.capacitance.low
      high     = max("10 µF", 1.1 * product.port.capacitance.high)
      source   = "low: product file, a fifth below its lowest; high: USB Type-C R2.5, Table 4-3 (10 µF when not attached), or a tenth above the product's highest where that is more"
      requires = ["vbus-not-shorted"]
      rework   = "Check the bulk capacitor on VBUS: fitted, right value, soldered at both ends."
    }
  }

  # --------------------------------------------------- terminations, no power

  stage "cc1" {
    title    = "Termination at CC1"
    requires = ["vbus-not-shorted"]

    enter "probe-cc1" {
      pullup = "10 kΩ"
    }

    read "r-cc1" {
      channel = channel.rd1
    }
    read "beside-cc1" {
      channel = channel.cc2
    }
    reseat {
      when = reading.r-cc1 > "100 kΩ"
      why  = "CC1 reads open; the plug may not have met it"
    }

    check "rd-cc1" {
      title  = "Termination at CC1"
      when   = has.terminations.resistors
      value  = reading.r-cc1
      low    = "4.59 kΩ"
      high   = "5.61 kΩ"
      source = "USB Type-C R2.5, Table 4-28: Rd ± 10 %, safe for every kind of sink"
      rework = "Check the 5.1 kΩ resistor from CC1 (A5) to ground: fitted, right value, soldered at both ends, no bridge."
    }

    check "cross-cc1" {
      title  = "CC2 stays at ground while CC1 is pulled up"
      value  = reading.beside-cc1
      high   = "0.2 V"
      source = "USB Type-C R2.0, voltage on sink CC pins: below 0.2 V nothing is connected"
      rework = "CC1 and CC2 are joined: look for a bridge between A5 and B5, and for one resistor that serves both pins."
    }
  }

  # A clamp is told from a resistor by a second current through it.
  stage "clamp1" {
    title    = "Clamp at CC1, the port without power"
    when     = has.terminations.controller
    requires = ["vbus-not-shorted"]
    for_each = ["10 kΩ", "36 kΩ"]

    enter "probe-cc1" {
      pullup = each.value
    }

    read "v-cc1" {
      channel = channel.cc1
    }

    check "clamp-cc1" {
      title  = "Dead-battery clamp at CC1"
      value  = reading.v-cc1
      low    = "0.88 V" - "30 mV"
      high   = "1.32 V" + "30 mV"
      source = "USB Type-C R2.5, Table 4-28: 0.88 to 1.32 V, drawn out by 30 mV because the product takes the whole range"
      rework = "Check the port controller and its joint at CC1 (A5)."
    }
  }

  stage "cc2" {
    title    = "Termination at CC2"
    requires = ["vbus-not-shorted"]

    enter "probe-cc2" {
      pullup = "10 kΩ"
    }

    read "r-cc2" {
      channel = channel.rd2
    }
    read "beside-cc2" {
      channel = channel.cc1
    }
    reseat {
      when = reading.r-cc2 > "100 kΩ"
      why  = "CC2 reads open; the plug may not have met it"
    }

    check "rd-cc2" {
      title  = "Termination at CC2"
      when   = has.terminations.resistors
      value  = reading.r-cc2
      low    = "4.59 kΩ"
      high   = "5.61 kΩ"
      source = "USB Type-C R2.5, Table 4-28: Rd ± 10 %, safe for every kind of sink"
      rework = "Check the 5.1 kΩ resistor from CC2 (B5) to ground: fitted, right value, soldered at both ends, no bridge."
    }

    check "cross-cc2" {
      title  = "CC1 stays at ground while CC2 is pulled up"
      value  = reading.beside-cc2
      high   = "0.2 V"
      source = "USB Type-C R2.0, voltage on sink CC pins: below 0.2 V nothing is connected"
      rework = "CC1 and CC2 are joined: look for a bridge between A5 and B5, and for one resistor that serves both pins."
    }
  }

  # A clamp is told from a resistor by a second current through it.
  stage "clamp2" {
    title    = "Clamp at CC2, the port without power"
    when     = has.terminations.controller
    requires = ["vbus-not-shorted"]
    for_each = ["10 kΩ", "36 kΩ"]

    enter "probe-cc2" {
      pullup = each.value
    }

    read "v-cc2" {
      channel = channel.cc2
    }

    check "clamp-cc2" {
      title  = "Dead-battery clamp at CC2"
      value  = reading.v-cc2
      low    = "0.88 V" - "30 mV"
      high   = "1.32 V" + "30 mV"
      source = "USB Type-C R2.5, Table 4-28: 0.88 to 1.32 V, drawn out by 30 mV because the product takes the whole range"
      rework = "Check the port controller and its joint at CC2 (B5)."
    }
  }

  # A dual-role port shows Rd and Rp in turn. Found means: low enough for Rd,
  # long enough for it to be no edge.
  stage "toggle1" {
    title    = "Dual-role port at CC1"
    when     = has.terminations.dual-role
    requires = ["vbus-not-shorted"]

    enter "probe-cc1" {
      pullup = "10 kΩ"
    }

    read "rail-1" {
      channel = channel.vprobe
    }
    wait "found-1" {
      title  = "CC1 of a dual-role port"
      until  = channel.cc1 <= "1.4 V"
      hold   = "8 ms"
      within = "300 ms"
      keep   = true

      threshold "Rd + 20 %" {
        level = "3.3 V" * "6.12 kΩ" / ("10 kΩ" + "6.12 kΩ")
      }
    }
    reseat {
      when = reading.found-1 > "290 ms"
      why  = "CC1 never shows a termination; the plug may not have met it"
    }

    check "shows-rd-cc1" {
      title  = "CC1 shows a termination in turn"
      value  = reading.found-1
      high   = 2.5 * "100 ms"
      source = "USB Type-C R2.1, Table 4-30: tDRP is 100 ms at most; two periods and a half"
      rework = "Check the port controller and its joint at CC1 (A5)."
    }

    check "drp-rd-cc1" {
      title    = "The termination at CC1 while it shows"
      value    = "10 kΩ" * reading.found-1.value / (reading.rail-1 - reading.found-1.value)
      low      = "4.08 kΩ"
      high     = "6.12 kΩ"
      source   = "USB Type-C R2.5, Table 4-28: Rd ± 20 %, the widest a sink may have"
      requires = ["shows-rd-cc1"]
      rework   = "Check the port controller and its joint at CC1 (A5)."
    }
  }

  stage "toggle2" {
    title    = "Dual-role port at CC2"
    when     = has.terminations.dual-role
    requires = ["vbus-not-shorted"]

    enter "probe-cc2" {
      pullup = "10 kΩ"
    }

    read "rail-2" {
      channel = channel.vprobe
    }
    wait "found-2" {
      title  = "CC2 of a dual-role port"
      until  = channel.cc2 <= "1.4 V"
      hold   = "8 ms"
      within = "300 ms"
      keep   = true

      threshold "Rd + 20 %" {
        level = "3.3 V" * "6.12 kΩ" / ("10 kΩ" + "6.12 kΩ")
      }
    }
    reseat {
      when = reading.found-2 > "290 ms"
      why  = "CC2 never shows a termination; the plug may not have met it"
    }

    check "shows-rd-cc2" {
      title  = "CC2 shows a termination in turn"
      value  = reading.found-2
      high   = 2.5 * "100 ms"
      source = "USB Type-C R2.1, Table 4-30: tDRP is 100 ms at most; two periods and a half"
      rework = "Check the port controller and its joint at CC2 (B5)."
    }

    check "drp-rd-cc2" {
      title    = "The termination at CC2 while it shows"
      value    = "10 kΩ" * reading.found-2.value / (reading.rail-2 - reading.found-2.value)
      low      = "4.08 kΩ"
      high     = "6.12 kΩ"
      source   = "USB Type-C R2.5, Table 4-28: Rd ± 20 %, the widest a sink may have"
      requires = ["shows-rd-cc2"]
      rework   = "Check the port controller and its joint at CC2 (B5)."
    }
  }

  # -------------------------------------------------------- the cell, if its own

  # No contact of the bench reaches a fitted cell. Its open-circuit voltage comes
  # from whoever fitted it; without it nothing can be said about the charge.
  stage "own-cell" {
    title    = "The unit's own cell"
    when     = has.cell.fitted
    requires = ["vbus-not-shorted"]

    enter "isolated" {}

    given "open-circuit" {
      title = "Open-circuit voltage of the unit's cell"
      as    = "1 V"
      u     = "20 mV"
    }
  }

  # ------------------------------------------------ the supply that never asks

  stage "legacy" {
    title    = "A legacy A supply"
    requires = ["vbus-not-shorted"]
    for_each = [
      { key = "normal", orientation = "normal", cell = "3.7 V", only = "cell.substitute" },
      { key = "flipped", orientation = "flipped", cell = "3.7 V", only = "cell.substitute" },
      { key = "normal", orientation = "normal", cell = "off", only = "cell.fitted" },
      { key = "flipped", orientation = "flipped", cell = "off", only = "cell.fitted" },
      { key = "normal", orientation = "normal", cell = "off", only = "cell.absent" },
      { key = "flipped", orientation = "flipped", cell = "off", only = "cell.absent" },
    ]

    enter "legacy-a" {
      orientation = each.orientation
      data        = "shorted"
      cell        = each.cell
    }

    wait "legacy-on" {
      title  = "VBUS from a legacy A supply"
      until  = channel.vbus >= "4 V"
      hold   = "20 ms"
      within = "300 ms"
      keep   = true

      threshold "lowest at a sink" {
        level = "4 V"
      }
    }
    read "legacy-i" {
      channel = channel.ibus
      steady  = "2 %"
      within  = "600 ms"
    }
    read "legacy-v" {
      channel = channel.vbus
    }
    read "legacy-force" {
      channel = channel.vforce
    }
    read "legacy-cc1" {
      channel = channel.cc1
    }
    read "legacy-cc2" {
      channel = channel.cc2
    }
    read "legacy-light" {
      channel = channel.light
    }

    check "path-resistance" {
      title  = "Resistance of the power path through the receptacle"
      when   = reading.legacy-i > "50 mA"
      value  = (reading.legacy-force - reading.legacy-v) / reading.legacy-i
      high   = "0.6 Ω"
      source = "common practice, no source: ten times a worn contact (50 mΩ) and a tenth of an ohm of track"
      rework = "Resolder the VBUS contacts of the receptacle; look for a cold joint or a torn track on the way to the charger."
    }

    check "legacy-vbus" {
      title   = "VBUS at the unit from a legacy A supply"
      value   = reading.legacy-v
      low     = "4 V"
      source  = "USB Type-C R2.0, section 4.4.1: 4.75 V less 0.50 V and 0.25 V of drop"
      because = ["path-resistance"]
      rework  = "VBUS sags under the unit's own current: check the receptacle and what draws the current."
    }

    check "legacy-current" {
      title     = "Charge current from a legacy A supply"
      when      = !has.cell.absent
      value     = reading.legacy-i
      low       = 0.965 * product.charger.fast_current.low
      high      = 1.035 * product.charger.fast_current.high + "4 mA"
      source    = "product file: the programmed current with its tolerance, 3.5 % beyond, and 4 mA for charger and indicator"
      provided  = has.cell.substitute || reading.open-circuit >= product.cell.lowest && reading.open-circuit <= product.cell.highest
      otherwise = "the open-circuit voltage of the unit's own cell is not known to be where the charge current means something"
      trusts    = ["data-contacts"]
      because   = ["path-resistance", "back-feed"]
      rework    = "Check the resistor that programs the charge current, the charger, and the data contacts of this side of the receptacle."
    }

    check "legacy-cc" {
      title   = "The CC pin in use under the cable's 56 kΩ"
      value   = max(reading.legacy-cc1, reading.legacy-cc2)
      low     = "0.25 V"
      high    = "0.61 V"
      source  = "USB Type-C R2.0, Table 4-36: vRd-USB"
      because = ["rd-cc1", "rd-cc2", "clamp-cc1", "clamp-cc2", "cross-cc1", "cross-cc2"]
      rework  = "A CC pin is joined to VBUS, or its termination is wrong: look for a bridge at A5 and B5."
    }

    check "legacy-rd" {
      title   = "The controller's termination, powered"
      when    = has.terminations.controller
      value   = "56 kΩ" * max(reading.legacy-cc1, reading.legacy-cc2) / (reading.legacy-force - max(reading.legacy-cc1, reading.legacy-cc2))
      high    = 1.05 * "5.61 kΩ" + "30 Ω"
      source  = "USB Type-C R2.5, Table 4-28: 5.61 kΩ for a sink that reads the advertisement, with the 5 % of the cable's resistor, and 30 Ω for what the bench adds"
      because = ["clamp-cc1", "clamp-cc2", "legacy-cc"]
      rework  = "Check the port controller and its joints at the CC pins."
    }

    check "legacy-cc-idle" {
      title   = "The CC pin that is not in use, VBUS on"
      value   = min(reading.legacy-cc1, reading.legacy-cc2)
      high    = "0.2 V"
      source  = "USB Type-C R2.0, voltage on sink CC pins: below 0.2 V nothing is connected"
      because = ["rd-cc1", "rd-cc2", "cross-cc1", "cross-cc2"]
      rework  = "CC1 and CC2 are joined: look for a bridge between A5 and B5."
    }

    check "indicator" {
      title   = "The indicator is lit while the unit charges"
      when    = has.indicator && !has.indicator.blinking && !has.cell.absent
      value   = reading.legacy-light
      low     = 0.6 * product.indicator.light.low
      source  = "product file: the least light, less two fifths for dirt on the sensor (common practice, no source)"
      because = ["legacy-current"]
      rework  = "Check the indicator: polarity, its resistor, its joint."
    }
  }

  stage "blinking" {
    title    = "The indicator while the unit charges"
    when     = has.indicator.blinking
    requires = ["vbus-not-shorted"]
    for_each = [
      { cell = "3.7 V", only = "cell.substitute" },
      { cell = "off", only = "cell.fitted" },
    ]

    enter "legacy-a" {
      cell = each.cell
    }

    wait "blinking-on" {
      until  = channel.vbus >= "4 V"
      hold   = "20 ms"
      within = "300 ms"
    }
    sample "blinking-light" {
      title   = "Light of the indicator"
      channel = channel.light
      over    = "1.5 s"
      every   = "20 ms"
    }

    check "indicator-blinks" {
      title   = "The indicator blinks while the unit charges"
      value   = reading.blinking-light.max - reading.blinking-light.min
      low     = 0.6 * product.indicator.light.low
      source  = "product file: the least light, less two fifths for dirt on the sensor (common practice, no source)"
      because = ["legacy-current"]
      rework  = "Check the indicator: polarity, its resistor, its joint."
    }
  }

  # A charger that looks at the data lines may take its full current only from
  # a port that joins them.
  stage "data" {
    title    = "A legacy A supply that is no charging port"
    when     = has.charger.asks_data
    requires = ["vbus-not-shorted"]
    for_each = [
      { key = "host", data = "host", cell = "3.7 V", only = "cell.substitute" },
      { key = "open", data = "open", cell = "3.7 V", only = "cell.substitute" },
      { key = "host", data = "host", cell = "off", only = "cell.fitted" },
      { key = "open", data = "open", cell = "off", only = "cell.fitted" },
    ]

    enter "legacy-a" {
      data = each.data
      cell = each.cell
    }

    wait "data-on" {
      until  = channel.vbus >= "4 V"
      hold   = "20 ms"
      within = "300 ms"
    }
    read "data-i" {
      channel = channel.ibus
      steady  = "2 %"
      within  = "600 ms"
    }

    check "unconfirmed-current" {
      title     = "Charge current where the data lines are not joined"
      value     = reading.data-i
      high      = 1.05 * product.charger.unconfirmed.high + "4 mA"
      source    = "product file: the current without a charging port, 5 % beyond its tolerance, and 4 mA for charger and indicator"
      provided  = has.cell.substitute || reading.open-circuit >= product.cell.lowest && reading.open-circuit <= product.cell.highest
      otherwise = "the open-circuit voltage of the unit's own cell is not known to be where the charge current means something"
      trusts    = ["data-contacts"]
      because   = ["legacy-current", "back-feed"]
      rework    = "The charger takes its full current from every port: check its data inputs and the joint between its data pins."
    }
  }

  # ------------------------------------------------------------- the controls

  # First nothing is on the CC wire, and VBUS must stay off for longer than a
  # supply takes; then a termination of the rig's own is, and VBUS must come.
  stage "stand-in" {
    title    = "A C supply without the unit's terminations"
    requires = ["vbus-not-shorted"]
    for_each = [
      { cell = "3.7 V", only = "cell.substitute" },
      { cell = "off", only = "cell.fitted" },
      { cell = "off", only = "cell.absent" },
    ]

    enter "no-termination" {
      cell = each.cell
    }

    sample "cold-v" {
      title   = "The C supply's VBUS with nothing at its CC pin"
      channel = channel.vforce
      over    = "500 ms"

      threshold "vSafe0V" {
        level = "0.8 V"
      }
    }

    control "supply-stays-cold" {
      kind    = "negative"
      title   = "The C supply gives nothing without a termination"
      value   = reading.cold-v.max
      high    = "0.8 V"
      source  = "USB PD: vSafe0V; a source answers within tCCDebounce and tVBUSON, 475 ms"
      because = ["back-feed"]
      rework  = "With its CC pins cut off the unit raises VBUS by itself: look for what feeds the port."

      lifted {
        sample "cold-v-lifted" {
          channel = channel.vforce
          over    = "500 ms"
        }
        value = reading.cold-v-lifted.max
      }
    }

    # What shines here would pass for the indicator.
    read "dark-light" {
      channel = channel.light
    }

    control "stays-dark" {
      kind    = "negative"
      title   = "The sensor sees no light while nothing feeds the unit"
      when    = has.indicator
      value   = reading.dark-light
      high    = 0.3 * product.indicator.light.low
      source  = "common practice, no source: half of what counts as lit"
      because = ["back-feed", "supply-stays-cold"]
      rework  = "The indicator is lit without a supply: look for what feeds it from the cell."

      lifted {
        read "dark-light-lifted" {
          channel = channel.light
        }
        value = reading.dark-light-lifted
      }
    }

    enter "stand-in" {
      cell = each.cell
    }

    # At the plug VBUS may be lower than at the supply by what the rig's path
    # drops: 0.46 Ω at the worst of its tolerances.
    wait "stand-in-on" {
      title  = "VBUS from a C supply, the rig's own termination"
      until  = channel.vforce >= "4.75 V" - "0.5 Ω" * product.charger.fast_current.high
      from   = channel.vforce <= "0.8 V"
      hold   = "20 ms"
      within = "600 ms"
      keep   = true

      threshold "vSafe0V" {
        level = "0.8 V"
      }
      threshold "vSafe5V" {
        level = "4.75 V"
      }
      threshold "lowest at the plug" {
        level = "4.75 V" - "0.5 Ω" * product.charger.fast_current.high
      }
    }
    read "stand-in-i" {
      channel = channel.ibus
      steady  = "2 %"
      within  = "600 ms"
    }

    control "supply-works" {
      kind   = "positive"
      title  = "The C supply answers the rig's own termination"
      value  = reading.stand-in-on
      high   = "475 ms" + "10 ms"
      source = "USB Type-C R2.1, Tables 4-31 and 4-29: tCCDebounce and tVBUSON, 475 ms; 10 ms for the rig: 7 ms until its CC contacts stand still, 2 ms for its feed switch, 1 ms for VBUS to rise at the plug"
      rework = "With the rig's own termination the unit keeps VBUS down: look for what draws more than the supply gives."

      lifted {
        wait "stand-in-on-lifted" {
          until  = channel.vforce >= "4.75 V" - "0.5 Ω" * product.charger.fast_current.high
          from   = channel.vforce <= "0.8 V"
          hold   = "20 ms"
          within = "600 ms"
        }
        value = reading.stand-in-on-lifted
      }
    }

    check "stand-in-current" {
      title     = "The unit charges when a termination stands in"
      when      = !has.cell.absent
      value     = reading.stand-in-i
      low       = 0.9 * product.charger.fast_current.low
      high      = 1.1 * product.charger.fast_current.high + "4 mA"
      source    = "product file: the programmed current with its tolerance, a tenth beyond"
      provided  = has.cell.substitute || reading.open-circuit >= product.cell.lowest && reading.open-circuit <= product.cell.highest
      otherwise = "the open-circuit voltage of the unit's own cell is not known to be where the charge current means something"
      trusts    = ["data-contacts", "supply-stays-cold", "supply-works"]
      because   = ["path-resistance", "legacy-current", "supply-works", "back-feed"]
      rework    = "Check the charger: it does not charge even where the terminations play no part."
    }
  }

  # ------------------------------------------------------ the supply that asks

  # Before each round the supply loses the termination of the last one. It has
  # to let VBUS fall as when it is unplugged; then it is cold, and how long it
  # takes to find the unit can be held against the standard.
  stage "c-supply" {
    title    = "A C supply through a plain cable"
    requires = ["vbus-not-shorted"]
    for_each = [
      { key = "default, normal", advertisement = "default", orientation = "normal", limit = "500 mA", cc_low = "0.25 V", cc_high = "0.61 V", cell = "3.7 V", only = "cell.substitute" },
      { key = "1.5 A, flipped", advertisement = "1.5 A", orientation = "flipped", limit = "1.5 A", cc_low = "0.7 V", cc_high = "1.16 V", cell = "3.7 V", only = "cell.substitute" },
      { key = "3.0 A, normal", advertisement = "3.0 A", orientation = "normal", limit = "3 A", cc_low = "1.31 V", cc_high = "2.04 V", cell = "3.7 V", only = "cell.substitute" },
      { key = "default, flipped", advertisement = "default", orientation = "flipped", limit = "500 mA", cc_low = "0.25 V", cc_high = "0.61 V", cell = "3.7 V", only = "cell.substitute" },
      { key = "1.5 A, normal", advertisement = "1.5 A", orientation = "normal", limit = "1.5 A", cc_low = "0.7 V", cc_high = "1.16 V", cell = "3.7 V", only = "cell.substitute" },
      { key = "3.0 A, flipped", advertisement = "3.0 A", orientation = "flipped", limit = "3 A", cc_low = "1.31 V", cc_high = "2.04 V", cell = "3.7 V", only = "cell.substitute" },
      { key = "default, normal", advertisement = "default", orientation = "normal", limit = "500 mA", cc_low = "0.25 V", cc_high = "0.61 V", cell = "off", only = "cell.fitted" },
      { key = "1.5 A, flipped", advertisement = "1.5 A", orientation = "flipped", limit = "1.5 A", cc_low = "0.7 V", cc_high = "1.16 V", cell = "off", only = "cell.fitted" },
      { key = "3.0 A, normal", advertisement = "3.0 A", orientation = "normal", limit = "3 A", cc_low = "1.31 V", cc_high = "2.04 V", cell = "off", only = "cell.fitted" },
      { key = "default, flipped", advertisement = "default", orientation = "flipped", limit = "500 mA", cc_low = "0.25 V", cc_high = "0.61 V", cell = "off", only = "cell.fitted" },
      { key = "1.5 A, normal", advertisement = "1.5 A", orientation = "normal", limit = "1.5 A", cc_low = "0.7 V", cc_high = "1.16 V", cell = "off", only = "cell.fitted" },
      { key = "3.0 A, flipped", advertisement = "3.0 A", orientation = "flipped", limit = "3 A", cc_low = "1.31 V", cc_high = "2.04 V", cell = "off", only = "cell.fitted" },
      { key = "default, normal", advertisement = "default", orientation = "normal", limit = "500 mA", cc_low = "0.25 V", cc_high = "0.61 V", cell = "off", only = "cell.absent" },
      { key = "1.5 A, flipped", advertisement = "1.5 A", orientation = "flipped", limit = "1.5 A", cc_low = "0.7 V", cc_high = "1.16 V", cell = "off", only = "cell.absent" },
      { key = "3.0 A, normal", advertisement = "3.0 A", orientation = "normal", limit = "3 A", cc_low = "1.31 V", cc_high = "2.04 V", cell = "off", only = "cell.absent" },
      { key = "default, flipped", advertisement = "default", orientation = "flipped", limit = "500 mA", cc_low = "0.25 V", cc_high = "0.61 V", cell = "off", only = "cell.absent" },
      { key = "1.5 A, normal", advertisement = "1.5 A", orientation = "normal", limit = "1.5 A", cc_low = "0.7 V", cc_high = "1.16 V", cell = "off", only = "cell.absent" },
      { key = "3.0 A, flipped", advertisement = "3.0 A", orientation = "flipped", limit = "3 A", cc_low = "1.31 V", cc_high = "2.04 V", cell = "off", only = "cell.absent" },
    ]

    enter "no-termination" {
      advertisement = each.advertisement
      cell          = each.cell
    }

    wait "c-fall" {
      until  = channel.vforce <= "0.8 V"
      hold   = "5 ms"
      within = "700 ms"
    }

    control "c-cold" {
      kind    = "negative"
      title   = "The C supply lets VBUS fall when the termination is gone, plain cable"
      value   = reading.c-fall
      high    = "670 ms"
      source  = "USB Type-C R2.1, Table 4-31, R2.5, Table 4-32: tSRCDisconnect and tVBUSOFF until VBUS is at vSafe0V, 0.8 V"
      because = ["vbus-capacitance", "back-feed"]
      rework  = "With its CC pins cut off the unit keeps VBUS up: look for what feeds the port."

      # Without the unit the supply has to be on before it can show how it
      # lets go.
      lifted {
        enter "stand-in" {
          advertisement = each.advertisement
        }
        wait "c-rise-lifted" {
          until  = channel.vforce >= "4.75 V" - "0.5 Ω" * product.charger.fast_current.high
          within = "700 ms"
        }
        enter "no-termination" {
          advertisement = each.advertisement
        }
        wait "c-fall-lifted" {
          until  = channel.vforce <= "0.8 V"
          hold   = "5 ms"
          within = "700 ms"
        }
        value = max(reading.c-rise-lifted, reading.c-fall-lifted)
      }
    }

    enter "c-supply" {
      advertisement = each.advertisement
      orientation   = each.orientation
      cell          = each.cell
    }

    # A supply has vSafe5V at its own receptacle; the unit has less by what the
    # path drops under the product's own current: 0.49 Ω of the rig at the worst
    # of its tolerances and 0.05 Ω of a worn contact in the receptacle.
    wait "c-on" {
      title  = "VBUS from a C supply"
      until  = channel.vbus >= "4.75 V" - "0.55 Ω" * product.charger.fast_current.high
      from   = channel.vbus <= "0.8 V"
      hold   = "100 ms"
      within = "600 ms"
      keep   = true

      threshold "vSafe0V" {
        level = "0.8 V"
      }
      threshold "vSafe5V" {
        level = "4.75 V"
      }
      threshold "lowest at the unit" {
        level = "4.75 V" - "0.55 Ω" * product.charger.fast_current.high
      }
    }
    read "c-i" {
      channel = channel.ibus
      steady  = "2 %"
      within  = "600 ms"
    }
    read "c-cc1" {
      channel = channel.cc1
    }
    read "c-cc2" {
      channel = channel.cc2
    }

    check "c-attach" {
      title   = "A C supply finds the unit and applies VBUS"
      when    = !has.terminations.dual-role
      value   = reading.c-on
      high    = "475 ms" + "10 ms"
      source  = "USB Type-C R2.1, Tables 4-31 and 4-29: tCCDebounce and tVBUSON, 475 ms; 10 ms for the rig: 7 ms until its CC contacts stand still, 2 ms for its feed switch, 1 ms for VBUS to rise at the plug; VBUS against vSafe5V, 4.75 V, less the drop of the path"
      trusts  = ["supply-stays-cold", "supply-works", "c-cold"]
      because = ["vbus-capacitance", "path-resistance", "rd-cc1", "rd-cc2", "clamp-cc1", "clamp-cc2", "cross-cc1", "cross-cc2", "legacy-cc", "back-feed"]
      rework  = "The terminations do not let a C supply find the unit: check both 5.1 kΩ resistors and bridges at A5 and B5."
    }

    # A dual-role unit has to turn to its termination first.
    check "c-attach-in-turn" {
      title   = "A C supply finds the dual-role unit and applies VBUS"
      when    = has.terminations.dual-role
      value   = reading.c-on
      high    = "475 ms" + "80 ms" + "10 ms"
      source  = "USB Type-C R2.1, Tables 4-31 and 4-29: tCCDebounce and tVBUSON, 475 ms, after tOnePortToggleConnect, 80 ms, because the unit shows its termination in turn; 10 ms for the rig: 7 ms until its CC contacts stand still, 2 ms for its feed switch, 1 ms for VBUS to rise at the plug; VBUS against vSafe5V, 4.75 V, less the drop of the path"
      trusts  = ["supply-stays-cold", "supply-works", "c-cold"]
      because = ["vbus-capacitance", "path-resistance", "rd-cc1", "rd-cc2", "clamp-cc1", "clamp-cc2", "cross-cc1", "cross-cc2", "legacy-cc", "back-feed"]
      rework  = "The terminations do not let a C supply find the unit: check both 5.1 kΩ resistors and bridges at A5 and B5."
    }

    check "c-cc" {
      title   = "The CC pin in use under a C supply"
      value   = max(reading.c-cc1, reading.c-cc2)
      low     = each.cc_low
      high    = each.cc_high
      source  = "USB Type-C R2.0, Table 4-36: vRd-USB, vRd-1.5, vRd-3.0"
      trusts  = ["supply-stays-cold", "supply-works"]
      because = ["rd-cc1", "rd-cc2", "clamp-cc1", "clamp-cc2", "cross-cc1", "cross-cc2", "legacy-cc"]
      rework  = "The unit would misread what the supply offers: check both 5.1 kΩ resistors and bridges at A5 and B5."
    }

    check "c-current" {
      title     = "Charge current from a C supply"
      requires  = ["c-attach", "c-attach-in-turn"]
      when      = !has.cell.absent
      value     = reading.c-i
      low       = 0.965 * product.charger.fast_current.low
      high      = 1.035 * product.charger.fast_current.high + "4 mA"
      source    = "product file: the programmed current with its tolerance, 3.5 % beyond, and 4 mA for charger and indicator"
      provided  = has.cell.substitute || reading.open-circuit >= product.cell.lowest && reading.open-circuit <= product.cell.highest
      otherwise = "the open-circuit voltage of the unit's own cell is not known to be where the charge current means something"
      trusts    = ["data-contacts"]
      because   = ["path-resistance", "legacy-current", "legacy-cc", "back-feed"]
      rework    = "Check the resistor that programs the charge current, the charger, and the data contacts of this side of the receptacle."
    }

    check "c-advertised" {
      title    = "No more current than the supply advertises"
      requires = ["c-attach", "c-attach-in-turn"]
      value    = reading.c-i
      high     = each.limit
      source   = "USB Type-C R2.0, sections 4.6.2.1 and 4.5.2.3.1.1: 500 mA, 1.5 A, 3.0 A"
      because  = ["legacy-current"]
      rework   = "Check the resistor that programs the charge current."
    }
  }

  stage "marked" {
    title    = "A C supply through a marked cable"
    requires = ["vbus-not-shorted"]
    for_each = [
      { key = "normal", orientation = "normal", cell = "3.7 V", only = "cell.substitute" },
      { key = "flipped", orientation = "flipped", cell = "3.7 V", only = "cell.substitute" },
      { key = "normal", orientation = "normal", cell = "off", only = "cell.fitted" },
      { key = "flipped", orientation = "flipped", cell = "off", only = "cell.fitted" },
      { key = "normal", orientation = "normal", cell = "off", only = "cell.absent" },
      { key = "flipped", orientation = "flipped", cell = "off", only = "cell.absent" },
    ]

    enter "no-termination" {
      cell = each.cell
    }

    wait "marked-fall" {
      until  = channel.vforce <= "0.8 V"
      hold   = "5 ms"
      within = "700 ms"
    }

    control "marked-cold" {
      kind    = "negative"
      title   = "The C supply lets VBUS fall when the termination is gone, marked cable"
      value   = reading.marked-fall
      high    = "670 ms"
      source  = "USB Type-C R2.1, Table 4-31, R2.5, Table 4-32: tSRCDisconnect and tVBUSOFF until VBUS is at vSafe0V, 0.8 V"
      because = ["vbus-capacitance", "back-feed"]
      rework  = "With its CC pins cut off the unit keeps VBUS up: look for what feeds the port."

      # Without the unit the supply has to be on before it can show how it
      # lets go.
      lifted {
        enter "stand-in" {}
        wait "marked-rise-lifted" {
          until  = channel.vforce >= "4.75 V" - "0.5 Ω" * product.charger.fast_current.high
          within = "700 ms"
        }
        enter "no-termination" {}
        wait "marked-fall-lifted" {
          until  = channel.vforce <= "0.8 V"
          hold   = "5 ms"
          within = "700 ms"
        }
        value = max(reading.marked-rise-lifted, reading.marked-fall-lifted)
      }
    }

    enter "c-supply-marked" {
      orientation = each.orientation
      cell        = each.cell
    }

    wait "marked-on" {
      title  = "VBUS from a C supply, marked cable"
      until  = channel.vbus >= "4.75 V" - "0.55 Ω" * product.charger.fast_current.high
      from   = channel.vbus <= "0.8 V"
      hold   = "100 ms"
      within = "600 ms"
      keep   = true

      threshold "vSafe0V" {
        level = "0.8 V"
      }
      threshold "vSafe5V" {
        level = "4.75 V"
      }
      threshold "lowest at the unit" {
        level = "4.75 V" - "0.55 Ω" * product.charger.fast_current.high
      }
    }

    check "marked-attach" {
      title   = "A C supply finds the unit through a marked cable"
      when    = !has.terminations.dual-role
      value   = reading.marked-on
      high    = "475 ms" + "10 ms"
      source  = "USB Type-C R2.1, Tables 4-31 and 4-29: tCCDebounce and tVBUSON, 475 ms; 10 ms for the rig: 7 ms until its CC contacts stand still, 2 ms for its feed switch, 1 ms for VBUS to rise at the plug; VBUS against vSafe5V, 4.75 V, less the drop of the path"
      trusts  = ["supply-stays-cold", "supply-works", "marked-cold"]
      because = ["vbus-capacitance", "path-resistance", "rd-cc1", "rd-cc2", "clamp-cc1", "clamp-cc2", "cross-cc1", "cross-cc2", "legacy-cc", "back-feed"]
      rework  = "Each CC pin needs a resistor of its own: look for one that serves both, and for a bridge between A5 and B5."
    }

    check "marked-attach-in-turn" {
      title   = "A C supply finds the dual-role unit through a marked cable"
      when    = has.terminations.dual-role
      value   = reading.marked-on
      high    = "475 ms" + "80 ms" + "10 ms"
      source  = "USB Type-C R2.1, Tables 4-31 and 4-29: tCCDebounce and tVBUSON, 475 ms, after tOnePortToggleConnect, 80 ms, because the unit shows its termination in turn; 10 ms for the rig: 7 ms until its CC contacts stand still, 2 ms for its feed switch, 1 ms for VBUS to rise at the plug; VBUS against vSafe5V, 4.75 V, less the drop of the path"
      trusts  = ["supply-stays-cold", "supply-works", "marked-cold"]
      because = ["vbus-capacitance", "path-resistance", "rd-cc1", "rd-cc2", "clamp-cc1", "clamp-cc2", "cross-cc1", "cross-cc2", "legacy-cc", "back-feed"]
      rework  = "Each CC pin needs a resistor of its own: look for one that serves both, and for a bridge between A5 and B5."
    }
  }

  # --------------------------------------------------------- a portable supply

  stage "portable" {
    title    = "A portable supply"
    requires = ["vbus-not-shorted"]
    for_each = [
      { cell = "3.7 V", only = "cell.substitute" },
      { cell = "off", only = "cell.fitted" },
    ]

    enter "portable" {
      cell = each.cell
    }

    wait "portable-on" {
      until  = channel.vbus >= "4 V"
      hold   = "150 ms"
      within = "300 ms"
    }
    sample "portable-i" {
      title   = "Current from a portable supply"
      channel = channel.ibus
      over    = "700 ms"

      threshold "wake threshold" {
        level = "60 mA"
      }
    }

    check "keeps-awake" {
      title     = "The unit keeps a portable supply awake"
      value     = reading.portable-i.min
      low       = "60 mA"
      source    = "common practice, no source: portable supplies switch off below 50 to 100 mA"
      provided  = has.cell.substitute || reading.open-circuit >= product.cell.lowest && reading.open-circuit <= product.cell.highest
      otherwise = "the open-circuit voltage of the unit's own cell is not known to be where the charge current means something"
      trusts    = ["data-contacts"]
      because   = ["path-resistance", "legacy-current"]
      rework    = "The unit takes too little to keep a portable supply on: check the charge current."
    }
  }

  # ---------------------------------------------------- the phases of a charge

  stage "trickle" {
    title    = "A deeply discharged cell"
    when     = has.cell.substitute
    requires = ["vbus-not-shorted"]

    enter "cell-substitute" {
      cell = "2.5 V"
    }

    wait "trickle-on" {
      until  = channel.vbus >= "4 V"
      hold   = "20 ms"
      within = "300 ms"
    }
    read "trickle-i" {
      channel = channel.ibus
      steady  = "2 %"
      within  = "600 ms"
    }

    check "trickle-current" {
      title   = "Trickle current into a cell of 2.5 V"
      value   = reading.trickle-i
      low     = 0.9 * product.charger.fast_current.low * product.charger.trickle_ratio.low
      high    = 1.1 * product.charger.fast_current.high * product.charger.trickle_ratio.high + "4 mA"
      source  = "product file: the trickle current with its tolerance, a tenth beyond, and 4 mA for charger and indicator"
      trusts  = ["data-contacts"]
      because = ["legacy-current", "back-feed"]
      rework  = "Check the charger: it must be gentle with a deeply discharged cell."
    }
  }

  stage "phases" {
    title    = "Constant current"
    when     = has.cell.substitute
    requires = ["vbus-not-shorted"]
    for_each = [
      { key = "3.0 V", cell = "3.0 V", share = "0.965" },
      # Close to the regulation voltage the current may already taper.
      { key = "4.1 V", cell = "4.1 V", share = "0.4" },
    ]

    enter "cell-substitute" {
      cell = each.cell
    }

    wait "phase-on" {
      until  = channel.vbus >= "4 V"
      hold   = "20 ms"
      within = "300 ms"
    }
    read "phase-i" {
      channel = channel.ibus
      steady  = "2 %"
      within  = "600 ms"
    }

    check "constant-current" {
      title   = "Charge current into a substitute cell"
      value   = reading.phase-i
      low     = each.share * product.charger.fast_current.low
      high    = 1.035 * product.charger.fast_current.high + "4 mA"
      source  = "product file: the programmed current with its tolerance, 3.5 % beyond; at 4.1 V two fifths of it (common practice, no source)"
      trusts  = ["data-contacts"]
      because = ["path-resistance", "legacy-current", "back-feed"]
      rework  = "Check the charger and the resistor that programs its current."
    }
  }

  stage "end" {
    title    = "A full cell"
    when     = has.cell.substitute
    requires = ["vbus-not-shorted"]

    enter "cell-substitute" {
      cell = "4.25 V"
    }

    wait "end-on" {
      until  = channel.vbus >= "4 V"
      hold   = "150 ms"
      within = "300 ms"
    }
    wait "end-time" {
      title  = "Current into a full cell"
      until  = channel.ibus <= 0.05 * product.charger.fast_current + "4 mA"
      hold   = "60 ms"
      within = "500 ms"
      keep   = true
    }

    check "end-of-charge" {
      title  = "No charge into a cell of 4.25 V"
      value  = reading.end-time.value
      high   = 0.05 * product.charger.fast_current + "4 mA"
      source = "charger data sheets: a charge ends at 4.20 V ± 1 %; above it at most a twentieth of the current (common practice, no source)"
      bin    = "quarantine"
      rework = "The charger does not end the charge: replace it, and check its voltage option. The cell may have been overcharged."
    }
  }

  # ------------------------------------------------------- the cell as a source

  stage "detached" {
    title    = "No supply, the cell present"
    requires = ["vbus-not-shorted"]
    when     = !has.cell.absent
    for_each = [
      { cell = "4.1 V", only = "cell.substitute" },
      { cell = "off", only = "cell.fitted" },
    ]

    enter "detached" {
      cell = each.cell
    }

    # 1 kΩ empties what is left on VBUS; a unit that feeds it does not get there.
    wait "detached-fall" {
      until  = channel.vbus <= "8 mV"
      hold   = "10 ms"
      within = "1.5 s"
    }
    read "detached-v" {
      channel = channel.vbus
    }

    check "back-feed" {
      title  = "Current from the cell into the port"
      value  = reading.detached-v / "1 kΩ"
      high   = "0.8 V" / "72.4 kΩ"
      source = "USB Type-C R1.0, Table 4-2: 0.8 V over 72.4 kΩ; more holds an idle supply's VBUS above vSafe0V"
      bin    = "quarantine"
      rework = "The cell feeds the port: check the charger's reverse blocking and bridges between the cell and VBUS."
    }
  }
}
