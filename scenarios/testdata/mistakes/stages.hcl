scenario "stages" {
  title    = "Mistakes"
  version  = "1"
  decision = "simple"

  stage "seat" { ### "Nothing decides whether the bench may apply power; mark a check of the probe with gate = true."
    enter "isolated" {} ### "A stage with a probe enters nothing: the probe enters probe-vbus by itself."
    probe "seat" {}
  }

  stage "empty" { ### "The stage \"empty\" does nothing; it needs a step or a check."
    enter "isolated" {}
  }

  stage "nowhere" {
    read "a" {
      channel = channel.vbus
    }
    probe "again" {} ### "A scenario probes once, in its first stage; a reseat probes again by itself."
  }

  stage "elsewhere" {
    enter "legacy-b" {} ### "The rig \"bench-one\" has no condition \"legacy-b\". Did you mean \"legacy-a\"?"

    read "b" {
      channel = channel.vbus
    }
  }

  stage "neither" { ### "The stage \"neither\" needs one enter block, such as enter \"legacy-a\" {}; it has 0."
    read "d" {
      channel = channel.vbus
    }
  }

  stage "axes" {
    enter "legacy-a" {
      orientaton  = "flipped" ### "The condition \"legacy-a\" has no axis \"orientaton\". Did you mean \"orientation\"?"
      orientation = "fliped" ### "The axis \"orientation\" of \"legacy-a\" has no value \"fliped\". Did you mean \"flipped\"?"
      cell        = 3.7 ### "A number without a unit cannot stand here; it takes a text in quotes, or each.NAME."
      data        = each.data ### "There is no for_each around this, so \"each\" stands for nothing."
    }

    read "c" {
      channel = channel.vbus
    }
    check "gate" {
      title    = "A gate after power"
      value    = reading.c
      low      = "1 V"
      source   = "none"
      gate     = true ### "A gate stands in the stage of the probe; this check comes after power was applied."
      requires = ["not-there"] ### "There is no check or control \"not-there\". Known here: gate, first, second."
      trusts   = ["gate"] ### "There is no control \"gate\"."
      rework   = "None."
    }
    check "first" {
      title    = "Asks what comes later"
      value    = reading.c
      low      = "1 V"
      source   = "none"
      requires = ["second"] ### "\"second\" is asked on line 65, which comes later; it has no answer yet."
      rework   = "None."
    }
    check "second" {
      title  = "Second"
      value  = reading.c
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    check "second" { ### "The name \"second\" is taken by the check on line 65; every check needs its own."
      title  = "Second again"
      value  = reading.c
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    read "first" { ### "The name \"first\" is taken by the check on line 57; every step and check needs its own."
      channel = channel.vbus
    }
    read "Upper" { ### "\"Upper\" cannot be a name; names are lower-case letters, digits and dashes, a letter first, such as \"rd-1\"."
      channel = channel.vbus
    }
    red "misspelt" { ### "The stage \"axes\" has no block \"red\". Did you mean \"read\"?"
      channel = channel.vbus
    }
  }
}
