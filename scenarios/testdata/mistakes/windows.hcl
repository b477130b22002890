scenario "an-order" {
  title    = "Windows that are none"
  version  = "1"
  decision = "simple"
  windows  = "open" ### "\"open\" is no value of \"windows\"; it takes one of: shared."

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
