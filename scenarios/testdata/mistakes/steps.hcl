scenario "steps" {
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

  stage "steps" {
    enter "legacy-a" {}

    wait "at-once" {
      until  = channel.vbus >= "4 V"
      within = "0 s" ### "0 s is no time to wait; it must be above 0 s and at most 600 s."
    }
    wait "neither" { ### "The wait \"neither\" needs either until = channel.NAME >= LEVEL, or a channel and steady = BAND."
      within = "1 s"
    }
    wait "no-comparison" {
      until  = channel.vbus ### "A name without quotes is nothing to wait for; compare a channel with a level, as in channel.vbus >= \"4.75 V\"."
      within = "1 s"
    }
    wait "sum" {
      until  = channel.vbus + "1 V" ### "A wait compares one channel with one level, by <, <=, > or >=."
      within = "1 s"
    }
    wait "no-channel" {
      until  = "4 V" >= channel.vbus ### "A text is no channel; a step measures one, such as channel.vbus."
      within = "1 s"
    }
    wait "long" {
      until  = channel.vbus >= "4 A" ### "4 A is a current; here a voltage is needed."
      hold   = "1 V" ### "Found a voltage in \"V\"; this needs a time such as 100 ms."
      within = "1 h" ### "3600 s is no time to wait; it must be above 0 s and at most 600 s."
    }
    wait "open-level" {
      until  = channel.vbus >= reading.v ### "A reading cannot stand here; the level must be known when the file is loaded."
      within = "1 s"
    }
    wait "channel-level" {
      until  = channel.vbus >= channel.vforce ### "A channel cannot be read here; take it in a step before and name the reading."
      within = "1 s"
    }
    wait "two-origins" {
      until     = channel.vbus >= "4 V"
      from      = channel.vbus <= "0.8 V"
      from_last = channel.vbus <= "0.8 V" ### "A time counts from one instant; leave out from or from_last."
      within    = "1 s"
    }
    wait "other-origin" { ### "A threshold is drawn into a waveform; this wait keeps none. Add keep = true."
      until  = channel.vbus >= "4 V"
      from   = channel.vforce >= "4 V" ### "The time counts from a mark on the channel that is waited for, \"vbus\"; found \"vforce\"."
      within = "1 s"

      threshold "unseen" {
        level = "4 V"
      }
    }
    wait "no-band" {
      channel = channel.ibus
      steady  = "200 %" ### "200 % is no band; it must be above 0 % and below 100 %."
      within  = "1 s"
    }
    read "v" {
      channel = channel.vbus
      within  = "1 s" ### "A read takes its value at once; with within it also needs steady, the band that the channel must stay in."
    }
    read "w" {
      channel = "vbus" ### "A text is no channel; a step measures one, such as channel.vbus."
      expect  = "4 V" / 0 ### "4 V / 0 is a voltage; here a number without unit is needed."
    }
    read "x" {
      channel = channel.vbus
      expect  = "4 V" / 0 ### "4 V / 0 has no value: evaluate 4 V / 0: divide to a voltage: the result is not a finite number."
    }
    sample "s" {
      channel = channel.vbus
      over    = "10 ms"
      every   = "20 ms" ### "Nothing is sampled: every is longer than over."
    }
    capture "c" {
      title    = "C"
      channel  = channel.vbus
      over     = "10 ms"
      interval = "20 ms" ### "Nothing is sampled: interval is longer than over."
    }
    given "g" {
      title = "G"
      as    = "1 V"
      u     = "1 A" ### "1 A is a current; here a voltage is needed."
    }
  }

  stage "terminations" {
    enter "isolated" {}

    read "rd" {
      channel = channel.rd1 ### "rd1 cannot be read in isolated: it needs exactly one of its pull-ups, and 0 are connected."
    }
  }
}
