scenario "an-order" {
  title    = "An order with a round that is not there"
  version  = "1"
  decision = "simple"
  order    = ["seat", "nowhere"] ### "There is no round \"nowhere\"; an order names stages, with the key of for_each in brackets."

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
}
