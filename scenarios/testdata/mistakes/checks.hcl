scenario "checks" {
  title    = "Mistakes"
  version  = "1"
  decision = "simple"

  interlock "over-curent" { ### "The guard has no trip \"over-curent\" that a unit can cause. Did you mean \"over-current\"?"
    title  = "No such trip"
    rework = "None."
  }

  stage "seat" {
    probe "seat" {}

    check "not-shorted" {
      title  = "VBUS is not shorted"
      value  = reading.seat.top
      low    = "1 V"
      source = "common practice, no source"
      gate   = true
      rework = "Look for a bridge."
    }
  }

  stage "checks" {
    enter "legacy-a" {}

    read "v" {
      channel = channel.vbus
    }
    check "no-limit" { ### "\"no-limit\" has nothing to be held against; give it low, high or both."
      title  = "No limit"
      value  = reading.v
      source = "none"
      rework = "None."
    }
    check "no-source" { ### "The limits of \"no-source\" do not say where they come from; write source = \"...\", and \"common practice, no source\" where that is so."
      title  = "No source"
      value  = reading.v
      low    = "1 V"
      rework = "None."
    }
    check "crossed" {
      title  = "Crossed"
      value  = reading.v
      low    = "2 V"
      high   = "1 V" ### "The high limit, 1 V, is below the low limit, 2 V."
      source = "none"
      rework = "None."
    }
    check "constant" {
      title  = "Known without measuring"
      value  = "4 V" + "1 V" ### "4 V + 1 V is known without measuring; a check judges a channel or a reading."
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    check "square" {
      title  = "Volts times volts"
      value  = reading.v * reading.v ### "The value is a quantity in V², for which a record has no unit."
      low    = "1 V" * "1 V"
      source = "none"
      rework = "None."
    }
    check "other-limit" {
      title  = "A current as limit"
      value  = reading.v
      low    = "1 A" ### "1 A is a current; here a voltage is needed."
      source = "none"
      rework = "None."
    }
    check "measured-limit" {
      title  = "A reading as limit"
      value  = channel.vforce
      low    = reading.v ### "A reading cannot stand here; the level must be known when the file is loaded."
      high   = channel.vbus ### "A channel cannot be read here; take it in a step before and name the reading."
      source = "none"
      rework = "None."
    }
    check "half-provided" { ### "\"half-provided\" needs both or neither of provided, which must be true for the answer to mean something, and otherwise, which says what is missing."
      title    = "Provided, without otherwise"
      value    = reading.v
      low      = "1 V"
      source   = "none"
      provided = reading.v > "1 V"
      rework   = "None."
    }
    check "channel-when" {
      title  = "A channel in when"
      when   = channel.vbus > "1 V" ### "A channel cannot be read here; take it in a step before and name the reading."
      value  = reading.v
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    control "half" {
      kind   = "negative"
      title  = "A control that asks for something else"
      value  = reading.v
      high   = "1 V"
      source = "none"

      lifted {
        wait "lifted-on" {
          until  = channel.vforce >= "4 V"
          within = "1 s"
        }
        value = reading.lifted-on ### "With the unit lifted the control asks for a time, and with the unit seated for a voltage; the limits are the same, so the dimensions must be."
      }
    }
    control "seated" {
      kind   = "negative"
      title  = "A control that looks at the seated unit"
      value  = reading.v
      high   = "1 V"
      source = "none"

      lifted {
        value = reading.v ### "\"v\" was taken with the unit seated; the value of \"lifted\" is made of its own steps."
      }
    }
    check "not-lifted" {
      title  = "A reading of the lifted unit"
      value  = reading.lifted-on ### "\"lifted-on\" is taken only when the control \"half\" has failed and the unit is lifted; nothing else can use it."
      high   = "1 s"
      source = "none"
      rework = "None."
    }
  }
}
