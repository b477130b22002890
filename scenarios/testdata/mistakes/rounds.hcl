scenario "rounds" {
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

  stage "list" {
    for_each = "normal" ### "for_each takes a list that is written out, such as [\"normal\", \"flipped\"]."

    enter "isolated" {}
    read "a" {
      channel = channel.vbus
    }
  }

  stage "items" {
    for_each = [
      1, ### "A number without a unit cannot be a round of for_each; it takes a text, or a map of texts with a \"key\"."
      { key = "a", value = 2 }, ### "A round of for_each gives texts to names, such as { key = \"a\", limit = \"1 V\" }."
      { value = "2" }, ### "A round of for_each that is a map needs a \"key\", by which its readings are called, or an \"only\"."
      { key = "b", only = "cell.subsitute" }, ### "Nothing is known about \"cell.subsitute\" of a product. Did you mean \"cell.substitute\"?"
      { key = " c" }, ### "\" c\" cannot be a key; a key is a short text without brackets, quotes or blanks at its ends."
      "d",
      "d", ### "The key \"d\" stands in the list already; every round needs its own, or an \"only\" that keeps them apart."
    ]

    enter "isolated" {}
    read "b" {
      channel = channel.vbus
    }
    check "each" {
      title  = "Each"
      value  = reading.b
      low    = each.limit ### "The rounds of for_each have no \"limit\". Known here: value."
      source = "none"
      rework = "None."
    }
  }

  stage "reach" {
    enter "isolated" {}

    check "which" {
      title  = "Which round"
      value  = reading.b ### "\"b\" is taken in several rounds; say which, as in reading.b[\"d\"]."
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    check "wrong-key" {
      title    = "No such round"
      requires = ["each[e]"] ### "\"each\" is not asked in a round \"e\". Did you mean \"d\"?"
      value    = reading.b["e"] ### "\"b\" is not taken in a round \"e\". Did you mean \"d\"?"
      low      = each.value ### "There is no for_each around this, so \"each\" stands for nothing."
      source   = "none"
      rework   = "None."
    }
  }
}
