# terminations-only: who is seated, and what stands on its CC pins.
#
# No power is applied: a first look at incoming boards, in about a second. It
# says nothing about the charge.

scenario "terminations-only" {
  title    = "Terminations only"
  version  = "1"
  decision = "guarded"
  guard    = 1
  windows  = "shared"

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
}
