# no-cell: boards that are tested before their cell is fitted.
#
# Everything that does not need a cell: shorts, capacitance, terminations, both
# kinds of supply, plain and marked cables. It says nothing about the charge.

scenario "no-cell" {
  title    = "Boards without a cell"
  version  = "1"
  decision = "guarded"
  guard    = 1
  windows  = "shared"

  # What the guard answers for the unit, when it trips with the unit seated and
  # does not trip without it.
  interlock "over-current" {
    title   = "The current stays below the product's ceiling"
    because = ["idle-current"]
    rework  = "Look for what draws the current: the charger's programming resistor, a part that gets hot."
  }
  interlock "over-voltage" {
    title  = "VBUS stays below 5.5 V"
    rework = "Something on the board raises VBUS above every supply of the bench: look for a boost converter that feeds the port."
    bin    = "quarantine"
  }
  interlock "vbus-held" {
    title  = "VBUS falls when nothing feeds it"
    rework = "Something on the board keeps VBUS up without a supply."
    bin    = "quarantine"
  }

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

  stage "legacy" {
    title    = "A legacy A supply"
    requires = ["vbus-not-shorted"]
    for_each = [
      { key = "normal", orientation = "normal" },
      { key = "flipped", orientation = "flipped" },
    ]

    enter "legacy-a" {
      orientation = each.orientation
      data        = "shorted"
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
      periods = 2
    }
    read "legacy-v" {
      channel = channel.vbus
    }
    read "legacy-cc1" {
      channel = channel.cc1
    }
    read "legacy-cc2" {
      channel = channel.cc2
    }

    check "legacy-vbus" {
      title  = "VBUS at the unit from a legacy A supply"
      value  = reading.legacy-v
      low    = "4 V"
      source = "USB Type-C R2.0, section 4.4.1: 4.75 V less 0.50 V and 0.25 V of drop"
      rework = "VBUS sags under the unit's own current: check the receptacle and what draws the current."
    }

    check "idle-current" {
      title  = "Current without a cell"
      when   = !has.cell.fitted
      value  = reading.legacy-i
      high   = product.charger.quiescent.high + "10 mA"
      source = "product file: what the charger takes for itself, and 10 mA for indicator and board (common practice, no source)"
      rework = "Something takes current where no cell can: look for a part that gets hot."
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

    check "legacy-cc-idle" {
      title   = "The CC pin that is not in use, VBUS on"
      value   = min(reading.legacy-cc1, reading.legacy-cc2)
      high    = "0.2 V"
      source  = "USB Type-C R2.0, voltage on sink CC pins: below 0.2 V nothing is connected"
      because = ["rd-cc1", "rd-cc2", "cross-cc1", "cross-cc2"]
      rework  = "CC1 and CC2 are joined: look for a bridge between A5 and B5."
    }
  }

  # First nothing is on the CC wire, and VBUS must stay off for longer than a
  # supply takes; then a termination of the rig's own is, and VBUS must come.
  stage "stand-in" {
    title    = "A C supply without the unit's terminations"
    requires = ["vbus-not-shorted"]

    enter "no-termination" {}

    sample "cold-v" {
      title   = "The C supply's VBUS with nothing at its CC pin"
      channel = channel.vforce
      over    = "500 ms"

      threshold "vSafe0V" {
        level = "0.8 V"
      }
    }

    control "supply-stays-cold" {
      kind   = "negative"
      title  = "The C supply gives nothing without a termination"
      value  = reading.cold-v.max
      high   = "0.8 V"
      source = "USB PD: vSafe0V; a source answers within tCCDebounce and tVBUSON, 475 ms"
      rework = "With its CC pins cut off the unit raises VBUS by itself: look for what feeds the port."

      lifted {
        sample "cold-v-lifted" {
          channel = channel.vforce
          over    = "500 ms"
        }
        value = reading.cold-v-lifted.max
      }
    }

    enter "stand-in" {}

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
  }

  # Before each round the supply loses the termination of the last one. It has
  # to let VBUS fall as when it is unplugged; then it is cold, and how long it
  # takes to find the unit can be held against the standard.
  stage "c-supply" {
    title    = "A C supply through a plain cable"
    requires = ["vbus-not-shorted"]
    for_each = [
      { key = "default, normal", advertisement = "default", orientation = "normal", cc_low = "0.25 V", cc_high = "0.61 V" },
      { key = "3.0 A, flipped", advertisement = "3.0 A", orientation = "flipped", cc_low = "1.31 V", cc_high = "2.04 V" },
      { key = "3.0 A, normal", advertisement = "3.0 A", orientation = "normal", cc_low = "1.31 V", cc_high = "2.04 V" },
      { key = "default, flipped", advertisement = "default", orientation = "flipped", cc_low = "0.25 V", cc_high = "0.61 V" },
    ]

    enter "no-termination" {
      advertisement = each.advertisement
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
      because = ["vbus-capacitance"]
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
      because = ["rd-cc1", "rd-cc2", "clamp-cc1", "clamp-cc2", "cross-cc1", "cross-cc2", "legacy-cc"]
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
      because = ["rd-cc1", "rd-cc2", "clamp-cc1", "clamp-cc2", "cross-cc1", "cross-cc2", "legacy-cc"]
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
  }

  stage "marked" {
    title    = "A C supply through a marked cable"
    requires = ["vbus-not-shorted"]
    for_each = [
      { key = "normal", orientation = "normal" },
      { key = "flipped", orientation = "flipped" },
    ]

    enter "no-termination" {}

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
      because = ["vbus-capacitance"]
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
      because = ["rd-cc1", "rd-cc2", "clamp-cc1", "clamp-cc2", "cross-cc1", "cross-cc2", "legacy-cc"]
      rework  = "Each CC pin needs a resistor of its own: look for one that serves both, and for a bridge between A5 and B5."
    }

    check "marked-attach-in-turn" {
      title   = "A C supply finds the dual-role unit through a marked cable"
      when    = has.terminations.dual-role
      value   = reading.marked-on
      high    = "475 ms" + "80 ms" + "10 ms"
      source  = "USB Type-C R2.1, Tables 4-31 and 4-29: tCCDebounce and tVBUSON, 475 ms, after tOnePortToggleConnect, 80 ms, because the unit shows its termination in turn; 10 ms for the rig: 7 ms until its CC contacts stand still, 2 ms for its feed switch, 1 ms for VBUS to rise at the plug; VBUS against vSafe5V, 4.75 V, less the drop of the path"
      trusts  = ["supply-stays-cold", "supply-works", "marked-cold"]
      because = ["rd-cc1", "rd-cc2", "clamp-cc1", "clamp-cc2", "cross-cc1", "cross-cc2", "legacy-cc"]
      rework  = "Each CC pin needs a resistor of its own: look for one that serves both, and for a bridge between A5 and B5."
    }
  }
}
