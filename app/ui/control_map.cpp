#include "app/ui/control_map.h"

namespace railside {

std::string_view control_role_key(ControlRole role) {
    switch (role) {
    case ControlRole::button:
        return "button";
    case ControlRole::tab:
        return "tab";
    case ControlRole::tick:
        return "tick";
    case ControlRole::field:
        return "field";
    case ControlRole::key:
        return "key";
    case ControlRole::choice:
        return "choice";
    case ControlRole::photo:
        return "photo";
    case ControlRole::plot:
        return "plot";
    case ControlRole::slider:
        return "slider";
    case ControlRole::text:
        return "text";
    case ControlRole::figure:
        return "figure";
    }
    return "";
}

void ControlMap::begin_frame() {
    count_ = 0;
    top_layer_ = 0;
}

Control& ControlMap::enrol(std::string_view name, ControlRole role, int layer) {
    if (count_ == controls_.size())
        controls_.emplace_back();
    Control& control = controls_[count_++];
    control.name.assign(name);
    control.role = role;
    control.label.clear();
    control.value.clear();
    control.standing = Answering::live;
    control.selected = false;
    control.rect = control.visible = {};
    control.grip = Grip::scroll;
    control.layer = layer;
    control.fit = TextFit::fits;
    raise_layer(layer);
    return control;
}

const Control* ControlMap::find(std::string_view name) const {
    for (const Control& control : controls())
        if (control.name == name)
            return &control;
    return nullptr;
}

const Control* ControlMap::at(float x, float y) const {
    const Control* found = nullptr;
    for (const Control& control : controls()) {
        if (control.layer != top_layer_ || control.role == ControlRole::figure)
            continue;
        if (control.visible.holds(x, y))
            found = &control;
    }
    return found;
}

} // namespace railside
