# Two scenarios in one file. ### "A scenario file holds one scenario block; this one has 2."
scenario "one" {
  title    = "Mistakes"
  version  = "1"
  decision = "simple"

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
}

scenario "two" {
  title    = "Mistakes"
  version  = "1"
  decision = "simple"

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
}
