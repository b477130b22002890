scenario "an-order" {
  title    = "An order with a round that is not there"
  version  = "1"
  decision = "simple"
  order    = ["seat", "cc1", "nowhere"] ### "There is no round \"nowhere\"; an order names stages, with the key of for_each in brackets."

  stage "seat" {
    probe "seat" {}
    check "not-shorted" {
      title  = "Not shorted"
      value  = reading.seat.level
      low    = "1 V"
      source = "common practice, no source"
      gate   = true
      rework = "Look for a bridge."
    }
  }

  stage "cc1" {
    requires = ["not-shorted"]
    enter "probe-cc1" {}
    read "r-cc1" {
      channel = channel.rd1
    }
    check "rd-cc1" {
      title  = "Termination at CC1"
      value  = reading.r-cc1
      low    = "4.59 kΩ"
      source = "common practice, no source"
      rework = "Check the resistor."
    }
  }
}
