scenario "an-order" {
  title      = "What cannot follow a fail"
  version    = "1"
  decision   = "simple"
  after_fail = "everything" ### "\"everything\" is no value of \"after_fail\"; it takes one of: hazards."

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
