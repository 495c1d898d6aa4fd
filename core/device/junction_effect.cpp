// What a faulty transistor does in its place. The figures are those of complete simulated
// amplifiers (40 V rails, 20 mV across 0.22 ohm emitter resistors, trim untouched, no load).
#include "core/device/junction.h"

namespace railside {

namespace {

enum class Fault {
    none,
    leak,       // collector to emitter
    base_leak,  // base to collector or emitter
    shorted,    // collector to emitter
    base_short, // base to collector or emitter
    open,
};

Fault fault_of(Path path, JunctionState state) {
    const bool ends = path == Path::collector_emitter;
    switch (state) {
    case JunctionState::leaky:
        return ends ? Fault::leak : Fault::base_leak;
    case JunctionState::shorted:
        return ends ? Fault::shorted : Fault::base_short;
    case JunctionState::open:
        return ends ? Fault::none : Fault::open;
    case JunctionState::not_read:
    case JunctionState::good:
    case JunctionState::undecided:
        break;
    }
    return Fault::none;
}

std::string_view in_output(Fault fault) {
    switch (fault) {
    case Fault::leak:
        return "A leaky output adds its own current: 1\u2009kΩ moved the emitter-resistor reading "
               "from 20 to 23\u2009mV only, 390\u2009Ω to 30\u2009mV, but it heats and gets worse.";
    case Fault::base_leak:
        return "A leak at an output's base adds to or takes from its drive: unequal halves, a "
               "hotter device.";
    case Fault::shorted:
        return "A shorted output ties the loudspeaker line to its rail: the rail fuse blows. Check "
               "its emitter resistor, its driver and the opposite output as well.";
    case Fault::base_short:
        return "A shorted base kills that half or turns it hard on: suspect the driver too.";
    case Fault::open:
        return "An open output leaves its half to the driver: that half clips early, the two "
               "emitter-resistor readings differ, and the trim cannot set them.";
    case Fault::none:
        break;
    }
    return {};
}

std::string_view in_driver(Fault fault) {
    switch (fault) {
    case Fault::leak:
        return "A leaky driver feeds the output bases: 4.7\u2009kΩ raised the emitter-resistor "
               "reading from 20 to 59\u2009mV, 1\u2009kΩ to 514\u2009mV, and the trim lost its "
               "authority.";
    case Fault::base_leak:
        return "A leak at a driver's base upsets the bias and takes drive at the peaks.";
    case Fault::shorted:
        return "A shorted driver turns its output fully on: the rail fuse blows, and the output "
               "and its base resistor may have gone with it.";
    case Fault::base_short:
        return "A shorted base ends the drive of that half; with base to collector the output is "
               "turned hard on.";
    case Fault::open:
        return "An open driver leaves its half without drive: no bias that the trim could set, "
               "early clipping on that side, heavy distortion.";
    case Fault::none:
        break;
    }
    return {};
}

std::string_view in_pre_driver(Fault fault) {
    switch (fault) {
    case Fault::leak:
        return "A leaky pre-driver feeds the driver and, through two gains, the outputs: the bias "
               "runs high and the trim loses its authority sooner than with a leaky driver.";
    case Fault::base_leak:
        return "A leak at a pre-driver's base loads the voltage amplifier: offset, less drive.";
    case Fault::shorted:
        return "A shorted pre-driver turns driver and output fully on: the rail fuse blows.";
    case Fault::base_short:
        return "A shorted base ends the drive of that half or turns it hard on.";
    case Fault::open:
        return "An open pre-driver leaves its half without drive: early clipping on that side.";
    case Fault::none:
        break;
    }
    return {};
}

std::string_view in_limiter(Fault fault) {
    switch (fault) {
    case Fault::leak:
        return "A leaky limiter shunts the drive to the output: 1\u2009kΩ took the "
               "emitter-resistor "
               "reading from 20 to 16.6\u2009mV, 390\u2009Ω to 12.2\u2009mV with clipping at 31.8 "
               "instead of 36.7\u2009V. On the side the voltage amplifier pulls itself, 390\u2009Ω "
               "moved it by 0.16\u2009mV: almost invisible in circuit.";
    case Fault::base_leak:
        return "A leak at a limiter's base shifts its threshold: the half may limit early.";
    case Fault::shorted:
        return "A shorted limiter ties the drive of its half to the output: that half is dead or "
               "clips at once.";
    case Fault::base_short:
        return "A shorted base either disarms the limiter or joins the drive to the sense divider.";
    case Fault::open:
        return "An open limiter leaves its half unprotected; nothing shows until the load shorts.";
    case Fault::none:
        break;
    }
    return {};
}

std::string_view in_spreader(Fault fault) {
    switch (fault) {
    case Fault::leak:
        return "A leaky bias spreader narrows the spread: 1\u2009kΩ took the emitter-resistor "
               "reading from 20 to 8\u2009mV, 390\u2009Ω to nothing, with a crossover notch.";
    case Fault::base_leak:
        return "A leak at the spreader's base shifts the spread: from collector to base it lowers "
               "the bias, from base to emitter it raises it.";
    case Fault::shorted:
        return "A shorted bias spreader leaves no bias at all: a crossover notch, readings of "
               "nought that the trim cannot raise.";
    case Fault::base_short:
        return "Base shorted to emitter turns the spreader off: full current through the outputs, "
               "the fuses blow. Base shorted to collector leaves about one diode of spread: no "
               "bias.";
    case Fault::open:
        return "An open bias spreader turns the outputs hard on: 2\u2009V across the emitter "
               "resistors, the fuses blow. Never power it without a lamp.";
    case Fault::none:
        break;
    }
    return {};
}

std::string_view in_voltage_amplifier(Fault fault) {
    switch (fault) {
    case Fault::leak:
        return "A leaky voltage amplifier pulls the output off centre: 4.7\u2009kΩ put 13\u2009V "
               "on the output. In its current source 10\u2009kΩ hardly shows.";
    case Fault::base_leak:
        return "A leak at the voltage amplifier's base eats the input stage's few hundred "
               "microamperes: offset, less gain, DC at the output when it is bad.";
    case Fault::shorted:
        return "A shorted voltage amplifier drives the output to one rail and holds it there.";
    case Fault::base_short:
        return "A shorted base leaves the voltage amplifier off or stuck: the output goes to a "
               "rail.";
    case Fault::open:
        return "An open voltage amplifier lets its load pull the output to the other rail.";
    case Fault::none:
        break;
    }
    return {};
}

std::string_view in_input_pair(Fault fault) {
    switch (fault) {
    case Fault::leak:
        return "A leak in the input pair unbalances the tail current: 10\u2009kΩ put 30\u2009V DC "
               "on the output.";
    case Fault::base_leak:
        return "A leak at an input base runs through the feedback or source resistors: offset that "
               "drifts with temperature.";
    case Fault::shorted:
        return "A shorted input transistor drives the output to a rail.";
    case Fault::base_short:
        return "A shorted base in the input pair leaves nothing to compare: the output goes to a "
               "rail.";
    case Fault::open:
        return "An open input transistor leaves the other one in charge: the output goes to a "
               "rail.";
    case Fault::none:
        break;
    }
    return {};
}

std::string_view in_other(Fault fault) {
    switch (fault) {
    case Fault::leak:
    case Fault::base_leak:
        return "A leak adds the rail divided by its resistance to whatever the device carries, and "
               "grows with heat.";
    case Fault::shorted:
    case Fault::base_short:
        return "A short joins two points that the circuit keeps apart: look for what it took "
               "along.";
    case Fault::open:
        return "An open junction takes the device out of the circuit.";
    case Fault::none:
        break;
    }
    return {};
}

} // namespace

std::string_view fault_effect(Role role, Path path, JunctionState state) {
    const Fault fault = fault_of(path, state);
    switch (role) {
    case Role::output:
        return in_output(fault);
    case Role::driver:
        return in_driver(fault);
    case Role::pre_driver:
        return in_pre_driver(fault);
    case Role::limiter:
        return in_limiter(fault);
    case Role::bias_spreader:
        return in_spreader(fault);
    case Role::voltage_amplifier:
        return in_voltage_amplifier(fault);
    case Role::input_pair:
        return in_input_pair(fault);
    case Role::emitter_resistor:
    case Role::trim_pot:
    case Role::other:
        break;
    }
    return in_other(fault);
}

} // namespace railside
