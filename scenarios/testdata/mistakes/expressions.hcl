scenario "expressions" {
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

  stage "expressions" {
    enter "legacy-a" {}

    read "v" {
      channel = channel.vbus
    }
    check "a" {
      title  = "A name that is nothing"
      value  = foo.bar ### "\"foo\" is nothing that can be referred to. Known here: reading, channel, product, has, each."
      low    = 1
      source = "none"
      rework = "None."
    }
    check "b" {
      title  = "No such reading, no name of one"
      value  = reading.w + reading ### "No step takes a reading called \"w\". Did you mean \"v\"?" "A reading is called by its name, as in reading.rd-1."
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    check "c" {
      title  = "No such figure"
      value  = reading.v / product.charger.fast_curent ### "No product has a parameter \"charger.fast_curent\". Did you mean \"charger.fast_current\"?"
      low    = "1 Ω"
      source = "none"
      rework = "None."
    }
    check "d" {
      title  = "No such fact"
      when   = has.indicater ### "Nothing is known about \"indicater\" of a product. Did you mean \"indicator\"?"
      value  = reading.v
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    check "e" {
      title  = "A truth as value"
      value  = reading.v > "1 V" ### "reading.v > 1 V is true or false; here a quantity is needed."
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    check "f" {
      title  = "A value as truth"
      when   = reading.v ### "reading.v is a voltage; here something true or false is needed, such as a comparison."
      value  = reading.v
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    check "g" {
      title  = "Units and numbers"
      value  = reading.v + "4 Vlt" ### "Found the unknown unit \"Vlt\"; this needs a number with its unit such as 4.75 V."
      low    = 1e999 ### "The number is too large; a double holds up to 1.8e308."
      source = "none"
      rework = "None."
    }
    check "h" {
      title  = "Functions"
      value  = abs(reading.v, reading.v) + minimum(reading.v) + min(reading.v, channel.ibus) + mean(reading.v) ### "abs takes one value; found 2." "There is no function \"minimum\". Known here: abs, max, mean, min, ratio." "min takes values of one dimension; found a current after a voltage." "mean takes two values or more; found 1."
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    check "i" {
      title  = "Other syntax"
      value  = true ? reading.v : "1 V" ### "A choice by ? and : cannot stand in an expression; it takes quantities in quotes, references, + - * /, comparisons, && || ! and the functions abs, max, mean, min, ratio."
      low    = [for x in ["1 V"] : x][0] ### "A part of something cannot stand in an expression; it takes quantities in quotes, references, + - * /, comparisons, && || ! and the functions abs, max, mean, min, ratio."
      high   = reading.v % "2 V" ### "There is no remainder of quantities; the operators are + - * /."
      source = "none"
      rework = "None."
    }
    check "j" {
      title  = "Volts against amperes"
      value  = reading.v
      when   = reading.v > "1 A" && reading.v == "1 V" ### "\">\" joins a voltage and a current; both sides need the same dimension." "Two measured values are never exactly equal; compare with <, <=, > or >=."
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    check "k" {
      title  = "Too high a power"
      value  = "1 V^9" * "1 V^9" * "1 V^9" * "1 V^9" * "1 V^9" * "1 V^9" * reading.v ### "The result has no dimension that a bench could need: combine the units V^27 and V^9: exponent of a base unit beyond ±100."
      low    = "1 V"
      source = "none"
      rework = "None."
    }
    check "l" {
      title  = "Interpolated"
      value  = reading.v
      low    = "${reading.v}" ### "A text with something to fill in cannot stand in an expression; it takes quantities in quotes, references, + - * /, comparisons, && || ! and the functions abs, max, mean, min, ratio."
      source = "none"
      rework = "None."
    }
    check "m" {
      title  = "No each, no such part"
      value  = reading.v.mean ### "The read \"v\" has no reading \"mean\". It has: v."
      low    = each.value ### "There is no for_each around this, so \"each\" stands for nothing."
      source = "none"
      rework = "None."
    }
  }
}
