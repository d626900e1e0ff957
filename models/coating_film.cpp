#include "models/coating_film.hpp"

#include <cmath>

namespace clampfade {

CoatingFilmLaw::CoatingFilmLaw(std::vector<Film> films, double area, double width)
    : films_(std::move(films)), area_(area), width_(width) {
  for (const Film& f : films_) {
    start_.push_back(f.coating.flowing_share() * f.thickness);
    if (f.coating.flow) {
      height_ += start_.back();
    }
  }
  for (std::size_t k = 0; k < films_.size(); ++k) {
    shares_.push_back(films_[k].coating.flow && height_ > 0 ? start_[k] / height_ : 0);
  }
}

void CoatingFilmLaw::start(std::span<double> z) const {
  std::fill(z.begin(), z.end(), 0.0);
  z[0] = height_;
}

double CoatingFilmLaw::fluidity(double temperature) const {
  double sum = 0;
  for (std::size_t k = 0; k < films_.size(); ++k) {
    if (shares_[k] > 0) {
      sum += shares_[k] / films_[k].coating.viscosity(temperature);
    }
  }
  return sum / (width_ * width_ * area_);
}

double CoatingFilmLaw::flowing(std::span<const double> z, std::size_t k) const {
  return shares_[k] > 0 ? shares_[k] * z[0] : start_[k];
}

void CoatingFilmLaw::rate(std::span<const double> z, double force, double temperature, double,
                          std::span<double> dz) const {
  dz[0] = -z[0] * z[0] * z[0] * std::max(force, 0.0) * fluidity(temperature);
  for (std::size_t k = 0; k < films_.size(); ++k) {
    const double* film = &z[1 + kPerFilm * k];
    double* d = &dz[1 + kPerFilm * k];
    d[0] = films_[k].coating.breakdown_rate(temperature) * (1 - film[0]);
    d[1] = -shares_[k] * dz[0] * (1 - film[0]);
    d[2] = flowing(z, k) * d[0];
  }
}

void CoatingFilmLaw::share(const LawStep& step, std::span<double> shared) const {
  const double h6 = step.duration / 6;
  const double f0 = height_ > 0 ? fluidity(step.temperature_start) : 0;
  const double fm = height_ > 0 ? fluidity(step.temperature_middle) : 0;
  const double f1 = height_ > 0 ? fluidity(step.temperature_end) : 0;
  // Integral of force times fluidity by Simpson's rule with the force linear in time: factors of start and end.
  shared[0] = h6 * (f0 + 2 * fm);
  shared[1] = h6 * (2 * fm + f1);
  shared[2] = step.duration * std::abs(f0 - 2 * fm + f1) / 12;
  shared[3] = step.duration * fm;
  for (std::size_t k = 0; k < films_.size(); ++k) {
    const Coating& c = films_[k].coating;
    const double broken =
        c.breakdown ? h6 * (c.breakdown_rate(step.temperature_start) + 4 * c.breakdown_rate(step.temperature_middle) +
                            c.breakdown_rate(step.temperature_end))
                    : 0;
    shared[4 + k] = broken > 0 ? std::exp(-broken) : 1;
  }
}

void CoatingFilmLaw::prepare(const LawStep&, std::span<const double> shared, std::span<const double>, double force0,
                             std::span<double> work) const {
  work[0] = shared[0] * std::max(force0, 0.0);
}

std::pair<double, double> CoatingFilmLaw::height_after(std::span<const double> shared, double height, double known,
                                                       double force1) const {
  if (height <= 0) {
    return {height, 0};
  }
  const double integral = known + shared[1] * std::max(force1, 0.0);
  const double after = height / std::sqrt(1 + 2 * height * height * integral);
  return {after, -after * after * after * shared[1]};
}

CoatingFilmLaw::FilmAfter CoatingFilmLaw::film_after(std::span<const double> shared, std::span<const double> z0,
                                                     std::size_t k, double h1) const {
  const double* a = &z0[1 + kPerFilm * k];
  FilmAfter b;
  b.broken = shared[4 + k] < 1 ? 1 - (1 - a[0]) * shared[4 + k] : a[0];
  const double left = 1 - (a[0] + b.broken) / 2;
  const double flowing = shares_[k] > 0 ? shares_[k] * (z0[0] + h1) / 2 : start_[k]; // h_f, mean of the step
  b.flowed = a[1] + left * shares_[k] * (z0[0] - h1);
  b.burnt = a[2] + flowing * (b.broken - a[0]);
  b.by_height = -shares_[k] * (left - (b.broken - a[0]) / 2);
  return b;
}

LawLoss CoatingFilmLaw::trial(const LawStep&, std::span<const double> shared, std::span<const double> z0, double,
                              double force1, std::span<const double> work) const {
  const auto [h1, dh] = height_after(shared, z0[0], work[0], force1);
  LawLoss answer;
  for (std::size_t k = 0; k < films_.size(); ++k) {
    const FilmAfter film = film_after(shared, z0, k, h1);
    answer.loss += film.flowed + film.burnt;
    answer.slope += dh * film.by_height;
  }
  return answer;
}

LawLoss CoatingFilmLaw::finish(const LawStep& step, std::span<const double> shared, std::span<const double> z0,
                               double force0, double force1, std::span<const double> work, std::span<double> z1) const {
  LawLoss answer = trial(step, shared, z0, force0, force1, work);
  z1[0] = height_after(shared, z0[0], work[0], force1).first;
  for (std::size_t k = 0; k < films_.size(); ++k) {
    const FilmAfter film = film_after(shared, z0, k, z1[0]);
    double* b = &z1[1 + kPerFilm * k];
    b[0] = film.broken;
    b[1] = film.flowed;
    b[2] = film.burnt;
  }
  if (z0[0] > 0) {
    const double f1 = std::max(force1, 0.0);
    answer.doubt = z1[0] * z1[0] * z1[0] * (shared[2] * std::max(f1, force0) + shared[3] * std::abs(f1 - force0) / 12);
  }
  return answer;
}

void CoatingFilmLaw::add_losses(std::span<const double> z, ByMechanism& losses) const {
  for (std::size_t k = 0; k < films_.size(); ++k) {
    losses[index(Mechanism::CoatingFlow)] += z[1 + kPerFilm * k + 1];
    losses[index(Mechanism::CoatingBreakdown)] += z[1 + kPerFilm * k + 2];
  }
}

double CoatingFilmLaw::layer_loss(std::span<const double> z, std::size_t k) const {
  return z[1 + kPerFilm * k + 1] + z[1 + kPerFilm * k + 2];
}

double CoatingFilmLaw::loss(std::span<const double> z) const {
  double sum = 0;
  for (std::size_t k = 0; k < films_.size(); ++k) {
    sum += layer_loss(z, k);
  }
  return sum;
}

} // namespace clampfade
