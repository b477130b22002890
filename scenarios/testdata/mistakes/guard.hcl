scenario "guard" {
  title    = "Guarded by too much"
  version  = "1"
  decision = "guarded"
  guard    = 4 ### "The guarded rule needs a guard above 0 and at most 3, such as guard = 1."

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
