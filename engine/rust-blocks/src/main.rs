fn main() {
    evcxr::runtime_hook();
}
