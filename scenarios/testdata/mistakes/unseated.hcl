scenario "unseated" {
  title    = "Mistakes"
  version  = "1"
  decision = "simple"

  stage "before" {
    nest = "empty"
    enter "data-pair" {}

    given "g" { ### "Nothing is seated in \"before\"; it takes only wait, read, sample, enter, capture, control."
      title = "Given"
      as    = "1 V"
      u     = "1 mV"
    }
    read "r" {
      channel = channel.cc1
    }
    check "c" { ### "Nothing is seated in \"before\"; it takes only wait, read, sample, enter, capture, control."
      title  = "A check"
      value  = reading.r
      low    = "1 V"
      source = "common practice, no source"
      rework = "None."
    }
    control "k" {
      kind   = "positive"
      title  = "A control"
      value  = reading.r
      low    = "1 V"
      source = "common practice, no source"

      lifted { ### "The control \"k\" is asked with nothing seated; it needs no \"lifted\" block."
        read "l" {
          channel = channel.cc1
        }
        value = reading.l
      }
    }
    enter "legacy-a" {} ### "\"legacy-a\" cannot be entered here: it needs that \"probe-vbus\" has passed in the same run, and no stage before this one enters it."

    read "p" {
      channel = channel.vbus
    }
  }

  stage "seat" {
    probe "seat" {}

    check "not-shorted" {
      title  = "VBUS is not shorted"
      value  = reading.seat.top
      low    = "1 V"
      source = "common practice, no source"
      gate   = true
      rework = "Look for a bridge between VBUS and ground."
    }
  }

  stage "after" {
    nest = "empty" ### "The nest is empty only before the unit is seated; put \"after\" in front of the stage with the probe."
    enter "isolated" {}

    read "a" {
      channel = channel.cc1
    }
  }

  stage "full" {
    nest = "full" ### "\"full\" is no value of \"nest\"; it takes one of: empty."
    enter "isolated" {}

    read "f" {
      channel = channel.cc1
    }
  }
}
