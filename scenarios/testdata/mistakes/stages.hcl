scenario "stages" {
  title    = "Mistakes"
  version  = "1"
  decision = "simple"

  stage "seat" { ### "Nothing decides whether the bench may apply power; mark a check of the probe with gate = true."
    enter "isolated" {} ### "A stage with a probe enters nothing: the probe enters probe-vbus by itself."
    probe "seat" {}
  }

  stage "empty" { ### "The stage \"empty\" does nothing; it needs a step or a check."
  }

  stage "idle" {
    enter "isolated" {} ### "Nothing is done in \"isolated\"; its enter block needs a step or a check behind it."
    enter "legacy-a" {
      feed {} ### "The enter \"legacy-a\" has no block \"feed\"."
    }

    read "e" {
      channel = channel.vbus
    }
    enter "isolated" {} ### "Nothing is done in \"isolated\"; its enter block needs a step or a check behind it."
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

  stage "late" {
    read "d" { ### "The stage \"late\" has entered nothing yet; put an enter block, such as enter \"legacy-a\" {}, before this."
      channel = channel.vbus
    }
    enter "isolated" {}

    read "f" {
      channel = channel.rd1 ### "rd1 cannot be read in isolated: it needs exactly one of its pull-ups, and 0 are connected."
    }
    enter "probe-cc1" {}

    read "g" {
      channel = channel.rd1
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
      requires = ["second"] ### "\"second\" is asked on line 86, which comes later; it has no answer yet."
      rework   = "None."
    }
    check "second" {
      title  = "Second"
      value  = reading.c
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    check "second" { ### "The name \"second\" is taken by the check on line 86; every check needs its own."
      title  = "Second again"
      value  = reading.c
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    read "first" { ### "The name \"first\" is taken by the check on line 78; every step and check needs its own."
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
